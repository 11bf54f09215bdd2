package service

import (
	"cmp"
	"context"
	"math/big"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"midden/internal/exchange"
	"midden/internal/farm"
	"midden/internal/ledger"
	"midden/internal/measure"
	"midden/internal/store"
)

// Codes of faults that only the garden can tell.
const (
	codeRowMaterial  farm.Code = "row.material"
	codeRowHousehold farm.Code = "row.household"
	codeRowChanged   farm.Code = "row.changed"
)

// ScrapImport is a log of scraps received to be taken in.
type ScrapImport struct {
	Rows   []exchange.ScrapRow
	Site   string            // by name; empty: the garden's usual one, or its only one
	FedTo  string            // a bin by name: every new row was fed to it on its day; empty: it is on hand
	Words  map[string]string // what the log calls a material, and its key
	Bucket measure.Quantity  // volume of one bucket of the log
	DryRun bool              // only tell what would happen
}

// Imported tells what an import did, or would do. With any fault it did
// nothing.
type Imported struct {
	Site       string
	New, Known int // rows taken in, and rows that were there from before
	Mass       measure.Grams
	NewMass    measure.Grams
	Households []string // added, as written
	Feedings   int
	Faults     []exchange.RowFault
}

// ImportScraps takes in a whole log, or nothing when any row is at fault, in
// one transaction. A row is known by its key, so that the same log, or a longer
// one, may be imported again. Rows count at noon of their day. It refuses with
// site.not_found, bin.not_found, bin.state, section.not_found and
// material.not_found (of Words); feeding needs someone who manages bins.
func (s *Service) ImportScraps(ctx context.Context, a Actor, garden uuid.UUID, in ScrapImport) (Imported, error) {
	ids := make([]uuid.UUID, len(in.Rows))
	for i, r := range in.Rows {
		ids[i] = rowID(garden, r)
	}
	type known struct {
		lots       *store.Rows[store.LotContent]
		households *store.Rows[farm.Household]
		overrides  *store.Rows[farm.MaterialOverride]
		sites      *store.Rows[farm.Site]
		bins       *store.Rows[farm.Bin]
		sections   *store.Rows[farm.Section]
	}
	done, err := write(ctx, s, a, garden, farm.TakeIn, Once{},
		func(tx *store.Tx) known {
			return known{tx.LotContents(ids), tx.KnownHouseholds(), tx.MaterialOverrides(), tx.EverySite(), tx.AllBins(), tx.AllSections()}
		},
		func(w *Work, k known) (Imported, error) {
			site, err := importSite(in.Site, w.Garden.Settings.DefaultSiteID, k.sites.Values)
			if err != nil {
				return Imported{}, err
			}
			words, err := newWordBook(s.knownMaterials(k.overrides.Values), in.Words)
			if err != nil {
				return Imported{}, err
			}
			im := &importing{Work: w, in: in, site: site, words: words, givers: giversOf(k.households.Values), there: map[uuid.UUID][]byte{}, out: Imported{Site: site.Name}}
			for _, l := range k.lots.Values {
				im.there[l.ID] = l.SHA256
			}
			if in.FedTo != "" {
				if err := im.chooseBin(k.bins.Values, k.sections.Values); err != nil {
					return Imported{}, err
				}
			}
			if im.zone, err = w.Garden.Location(); err != nil {
				return Imported{}, err
			}
			for i, r := range in.Rows {
				im.row(ids[i], r)
			}
			if len(im.out.Faults) > 0 || in.DryRun {
				return im.out, nil
			}
			return im.out, im.write()
		})
	return done.Value, err
}

// rowID is the lot's id that a row gets in a garden, each time.
func rowID(garden uuid.UUID, r exchange.ScrapRow) uuid.UUID {
	return uuid.NewSHA1(garden, []byte("scrap log row "+r.Key))
}

// importSite finds the site that everything goes to.
func importSite(name string, usual uuid.UUID, sites []farm.Site) (farm.Site, error) {
	var active, found []farm.Site
	for _, x := range sites {
		if x.Active {
			active = append(active, x)
		}
		if x.Active && (name != "" && farm.Fold(x.Name) == farm.Fold(name) || name == "" && x.ID == usual) {
			found = append(found, x)
		}
	}
	if name == "" && len(found) == 0 {
		found = active
	}
	if len(found) == 1 {
		return found[0], nil
	}
	names := make([]string, len(active))
	for i, x := range active {
		names[i] = x.Name
	}
	return farm.Site{}, farm.Refuse("site.not_found", "/site", "site: must be one of this garden's (%s); got %q", strings.Join(names, ", "), name)
}

// importing is an import under way.
type importing struct {
	*Work
	in      ScrapImport
	site    farm.Site
	zone    *time.Location
	words   wordBook
	givers  givers
	there   map[uuid.UUID][]byte
	bin     farm.Bin
	section farm.Section
	added   []farm.Household
	lots    []newRow
	out     Imported
}

// newRow is a row that is not there yet.
type newRow struct {
	lot     farm.Lot
	content [32]byte
}

func (im *importing) fault(r exchange.ScrapRow, column, value string, code farm.Code, message string) {
	im.out.Faults = append(im.out.Faults, exchange.RowFault{Line: r.Line, Column: column, Code: code, Message: message, Value: value})
}

// row makes a lot of a row, or notes what is wrong with it.
func (im *importing) row(id uuid.UUID, r exchange.ScrapRow) {
	faults := len(im.out.Faults)
	m, ok := im.words.find(r.What)
	if !ok {
		im.fault(r, "what", r.What, codeRowMaterial, "what: neither a material of this garden nor an everyday word for one; say which it is with --material")
	}
	// What a row comes to; the household may have been renamed since.
	content, err := digest(struct {
		Key, Material string
		Mass          measure.Grams
		Density       float64
	}{r.Key, m.Key, r.Mass, float64(r.Density)})
	if err != nil {
		im.fault(r, "", "", codeRowChanged, err.Error())
	}
	im.out.Mass += r.Mass
	if old, there := im.there[id]; there {
		im.out.Known++
		if ok && !slices.Equal(old, content[:]) {
			im.fault(r, "what", r.What, codeRowChanged, "row: was imported before with another material, bucket or density; import it with those, or reverse its entry first")
		}
		return
	}
	giver := im.giver(r)
	at := time.Date(r.Day.Year(), r.Day.Month(), r.Day.UTC().Day(), 12, 0, 0, 0, im.zone)
	if at.After(im.Now) {
		at = im.Now
	}
	at, day, err := im.at(at)
	if err == nil && day != r.Day {
		err = farm.Refuse("day.future", "", "occurred_at: must not lie ahead")
	}
	if err != nil {
		im.fault(r, "date", r.Day.String(), exchange.CodeRowDate, "date: "+strings.TrimPrefix(farm.AsError(err).Message, "occurred_at: "))
	}
	if len(im.out.Faults) > faults {
		return
	}
	entered, weight, err := im.amount(r)
	if err != nil {
		im.fault(r, "how much", r.Value, exchange.CodeRowQuantity, "how much: "+err.Error())
		return
	}
	im.out.New++
	im.out.NewMass += weight.Net
	im.lots = append(im.lots, newRow{farm.Lot{ID: id, Material: m.Key, FromHousehold: giver, SiteID: im.site.ID, Entered: entered, Weight: weight,
		Place: farm.Shelf, UseBy: farm.UseByFor(m.Material, farm.Shelf, day), Status: farm.LotReceived, ReceivedAt: at, ReceivedOn: day,
		RecordedAt: im.Now, RecordedBy: im.Member.ID, Note: "From an imported log.", Version: 1}, content})
}

// giver is the household that a row names; it is added when there is none.
func (im *importing) giver(r exchange.ScrapRow) uuid.UUID {
	found := im.givers.find(r.Who)
	switch {
	case len(found) == 1:
		return found[0].ID
	case len(found) > 1:
		im.fault(r, "who", r.Who, codeRowHousehold, "who: more than one household has this name or plot; write it so that it is one")
		return uuid.Nil
	}
	h := farm.Household{ID: im.ids(), Name: r.Who, Baseline: farm.BaselineUnknown, CreatedAt: im.Now, Version: 1}
	if plot, ok := plotOf(r.Who); ok {
		h.Name, h.Plot = "", plot
	}
	if err := h.Validate(); err != nil {
		im.fault(r, "who", r.Who, codeRowHousehold, "who: "+farm.AsError(err).Message)
		return uuid.Nil
	}
	im.givers.add(h)
	im.added = append(im.added, h)
	im.out.Households = append(im.out.Households, r.Who)
	return h.ID
}

// amount gives what was entered and the grams it came to when it was read:
// nothing is converted a second time.
func (im *importing) amount(r exchange.ScrapRow) (farm.Entered, farm.Weight, error) {
	set := im.Garden.Settings
	q := measure.Quantity{Value: r.Value, Unit: measure.Unit(r.Unit)}
	if r.Method == farm.ByScale {
		return farm.Entered{Method: farm.ByScale, Gross: q}, farm.Weight{Gross: r.Mass, Net: r.Mass, RelSDPermille: set.ScaleSDPermille}, nil
	}
	e := farm.Entered{Method: farm.ByContainer, Each: q, Count: 1, FillPct: 100, DensityGPerL: float64(r.Density)}
	if r.Container {
		n, ok := new(big.Rat).SetString(r.Value)
		each, also := new(big.Rat).SetString(im.in.Bucket.Value)
		if !ok || !also {
			return e, farm.Weight{}, farm.Refuse(exchange.CodeImportOptions, "/bucket", "buckets: must be counted against a volume such as 20 L; got %q", im.in.Bucket.Value)
		}
		e.Container, e.Each = "bucket", im.in.Bucket
		if n.IsInt() && n.Num().IsInt64() && n.Num().Int64() <= 1000 {
			e.Count = int(n.Num().Int64())
		} else { // part of a bucket is one vessel of that much
			e.Container = r.Value + " buckets"
			e.Each.Value = decimal(n.Mul(n, each))
		}
	}
	ml, err := e.Each.Millilitres()
	return e, farm.Weight{Net: r.Mass, ContainerML: ml, DensityGPerL: float64(r.Density), RelSDPermille: set.ContainerSDPct * 10}, err
}

// decimal prints a number that has no endless fraction, exactly.
func decimal(r *big.Rat) string {
	text := r.FloatString(20)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// chooseBin finds the feeding section that everything was fed to.
func (im *importing) chooseBin(bins []farm.Bin, sections []farm.Section) error {
	if err := authorise(im.Member, farm.ManageBins); err != nil {
		return err
	}
	for _, b := range bins {
		if farm.Fold(b.Name) == farm.Fold(im.in.FedTo) {
			im.bin = b
		}
	}
	if im.bin.ID == uuid.Nil {
		return farm.Refuse("bin.not_found", "/fed_to", "fed to: no bin of this garden is called %q", im.in.FedTo)
	}
	for _, x := range sections {
		if x.BinID == im.bin.ID && x.Stage == farm.Feeding {
			im.section = x
		}
	}
	if im.section.ID == uuid.Nil {
		return farm.Refuse("section.not_found", "/fed_to", "fed to: %s has no feeding section", im.bin.Name)
	}
	return im.bin.CheckFeed(im.section)
}

// write queues everything that is new.
func (im *importing) write() error {
	for _, h := range im.added {
		content, err := digest(h)
		if err != nil {
			return err
		}
		im.InsertHousehold(h, content)
	}
	for i, n := range im.lots {
		taken, err := im.takeIn(n.lot, Intake{Status: farm.LotAccepted}, n.content)
		if err != nil {
			return err
		}
		im.lots[i].lot = taken.Lot
	}
	if im.in.FedTo == "" {
		return nil
	}
	return im.feedAll()
}

// mostFedLots keeps one feeding's entry within mostFedPostings.
const mostFedLots = mostFedPostings / 2

// feedAll feeds each day's lots on that day.
func (im *importing) feedAll() error {
	lots := slices.Clone(im.lots)
	slices.SortStableFunc(lots, func(a, b newRow) int {
		return cmp.Or(a.lot.ReceivedOn.Compare(b.lot.ReceivedOn), a.lot.ReceivedAt.Compare(b.lot.ReceivedAt))
	})
	if len(lots) > 0 {
		im.beginFeeding(im.bin, im.section, lots[0].lot.ReceivedOn)
	}
	for len(lots) > 0 {
		n := 1
		for n < len(lots) && n < mostFedLots && lots[n].lot.ReceivedOn == lots[0].lot.ReceivedOn {
			n++
		}
		if err := im.feed(lots[:n]); err != nil {
			return err
		}
		lots = lots[n:]
	}
	return nil
}

func (im *importing) feed(lots []newRow) error {
	first := lots[0].lot
	f := farm.Feed{ID: im.ids(), BinID: im.bin.ID, SectionID: im.section.ID, Note: "From an imported log.",
		FedAt: first.ReceivedAt, FedOn: first.ReceivedOn, RecordedAt: im.Now, RecordedBy: im.Member.ID}
	entry := im.entry(ledger.KindFeeding, ledger.Cause{Kind: "feeding", ID: f.ID}, f.FedAt, f.FedOn)
	f.EntryID = entry.ID
	to := side{ledger.SectionAccount(im.bin.ID, im.section.ID), im.bin.SiteID}
	for _, n := range lots {
		l := n.lot
		f.Lots = append(f.Lots, farm.FedLot{LotID: l.ID, Material: l.Material, Net: l.Weight.Net, RelSDPermille: l.Weight.RelSDPermille})
		entry.Postings = append(entry.Postings, moved(ledger.Scraps(l.Material), l.Weight.Net, ledger.Book, l.Weight.RelSDPermille, lotSide(l), to)...)
	}
	content, err := digest(f)
	if err != nil {
		return err
	}
	if err := im.InsertFeeding(f, content); err != nil {
		return err
	}
	im.out.Feedings++
	return im.Post(entry)
}

// ActorByEmail is the person with this address, for commands run by whoever
// holds the database. It refuses with account.not_found, also for an account
// that is disabled.
func (s *Service) ActorByEmail(ctx context.Context, email string) (Actor, error) {
	a, found, err := s.store.FindAccountByEmail(ctx, email)
	if err != nil {
		return Actor{}, err
	}
	if !found || !a.DisabledAt.IsZero() {
		return Actor{}, farm.Refuse("account.not_found", "/email", "email: nobody signs in as %s", email)
	}
	return Actor{AccountID: a.ID}, nil
}
