package app

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/pgtest"
	"midden/internal/season"
	"midden/internal/service"
)

// allotment is a founded garden with one site, in a database of its own, on
// 2 October 2026.
type allotment struct {
	t      *testing.T
	cfg    Config
	opt    Options
	garden uuid.UUID
}

const importer = "maren@lowfield.example"

func newAllotment(t *testing.T) allotment {
	t.Helper()
	a := allotment{t: t, cfg: settingsOf(t, pgtest.New(t)),
		opt: Options{Now: func() time.Time { return time.Date(2026, 10, 2, 12, 0, 0, 0, time.UTC) }}}
	a.with(func(ctx context.Context, svc *service.Service) error {
		if _, err := svc.NewAccount(ctx, importer, "Maren Holt", "three damp sponges", true); err != nil {
			return err
		}
		who, err := svc.ActorByEmail(ctx, importer)
		if err != nil {
			return err
		}
		g, err := svc.CreateGarden(ctx, who, service.GardenNew{Name: "Lowfield Terrace Garden", TimeZone: "America/New_York",
			Hemisphere: farm.North, Units: measure.US}, service.Once{})
		if err != nil {
			return err
		}
		a.garden = g.Value.ID
		site, err := svc.CreateSite(ctx, who, a.garden, farm.Site{Name: "Potting shed", Kind: farm.Shed}, service.Once{})
		if err != nil {
			return err
		}
		_, err = svc.CreateBin(ctx, who, a.garden, farm.Bin{Name: "Long wedge", SiteID: site.Value.ID, Method: farm.Wedge, Species: farm.Eisenia,
			Shape:  farm.Shape{Kind: farm.Box, LengthMM: 3000, WidthMM: 900, DepthMM: 600},
			Status: farm.BinInUse, Ventilation: farm.AirHoles}, service.Once{})
		if err != nil {
			return err
		}
		_, err = svc.CreateHousehold(ctx, who, a.garden, farm.Household{Name: "ines  b.", Plot: "14"}, service.Once{})
		return err
	})
	return a
}

func (a allotment) with(work func(context.Context, *service.Service) error) {
	a.t.Helper()
	if err := withStore(a.t.Context(), a.cfg, a.opt, func(p *Program) error { return work(a.t.Context(), p.useCases(nil)) }); err != nil {
		a.t.Fatal(err)
	}
}

func (a allotment) load(file string, change func(*ScrapLogImport)) (string, error) {
	a.t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "import", file))
	if err != nil {
		a.t.Fatal(err)
	}
	defer f.Close()
	in := ScrapLogImport{Garden: a.garden, As: importer}
	if change != nil {
		change(&in)
	}
	var out bytes.Buffer
	err = ImportScrapLog(a.t.Context(), a.cfg, a.opt, f, &out, in)
	return out.String(), err
}

// balance is a season's, from a report prepared now.
func (a allotment) balance(key string) (b season.Balance, r season.Report) {
	a.t.Helper()
	a.with(func(ctx context.Context, svc *service.Service) error {
		who, err := svc.ActorByEmail(ctx, importer)
		if err != nil {
			return err
		}
		done, err := svc.PrepareReport(ctx, who, a.garden, service.ReportWish{Season: key}, service.Once{})
		r = done.Value.Report
		return err
	})
	return r.Balance, r
}

// logged adds the log up by season with exact fractions, a way of its own.
// Factors: NIST Handbook 44, Appendix C; 3.8 lb of food scraps in a gallon: US
// EPA, Volume-to-Weight Conversion Factors, April 2016.
func logged(t *testing.T, file string) (rows int, grams map[string]int64) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join("..", "..", "testdata", "import", file))
	if err != nil {
		t.Fatal(err)
	}
	records, err := csv.NewReader(bytes.NewReader(raw)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	pound := big.NewRat(45359237, 100000)
	gallon := new(big.Rat).Mul(pound, big.NewRat(38, 10))
	litre := new(big.Rat).Quo(gallon, big.NewRat(3785411784, 1000000000))
	per := map[string]*big.Rat{"kg": big.NewRat(1000, 1), "kilo": big.NewRat(1000, 1), "g": big.NewRat(1, 1), "grams": big.NewRat(1, 1),
		"lb": pound, "lbs": pound, "pounds": pound, "oz": new(big.Rat).Quo(pound, big.NewRat(16, 1)), "l": litre, "gal": gallon, "gallons": gallon,
		"bucket": new(big.Rat).Mul(gallon, big.NewRat(5, 1)), "buckets": new(big.Rat).Mul(gallon, big.NewRat(5, 1))}
	grams = map[string]int64{}
	for _, r := range records[1:] {
		unit, known := per[strings.ToLower(r[4])]
		n, ok := new(big.Rat).SetString(r[3])
		if !known || !ok {
			t.Fatalf("can't add up %q", r)
		}
		key := "2026-spring"
		if r[0] >= "2026-09-01" {
			key = "2026-autumn"
		} else if r[0] >= "2026-06-01" {
			key = "2026-summer"
		}
		// Half to even: twice the number, floored, tells on which side it lies.
		n.Mul(n, unit)
		whole, rest := new(big.Int).DivMod(n.Num(), n.Denom(), new(big.Int))
		side := new(big.Int).Lsh(rest, 1).Cmp(n.Denom())
		if side > 0 || side == 0 && whole.Bit(0) == 1 {
			whole.Add(whole, big.NewInt(1))
		}
		grams[key] += whole.Int64()
		rows++
	}
	return rows, grams
}

func TestALogBecomesTheReportsOfItsSeasons(t *testing.T) {
	t.Parallel()
	rows, want := logged(t, "scraplog.csv")
	if rows < 100 || len(want) < 2 {
		t.Fatalf("the log has %d rows in %d seasons", rows, len(want))
	}
	a := newAllotment(t)
	said, err := a.load("scraplog.csv", func(in *ScrapLogImport) { in.DryRun = true })
	if err != nil || !strings.Contains(said, "rows would be taken in; nothing was written: 121 ") {
		t.Fatalf("%v: %s", err, said)
	}
	if b, _ := a.balance("2026-spring"); b.Received != 0 {
		t.Fatalf("a dry run wrote %d g", b.Received)
	}
	said, err = a.load("scraplog.csv", nil)
	// Ines B. is there by name and plot 14 by number; the plot is hers.
	if err != nil || !strings.Contains(said, "rows taken in: 121 ") || !strings.Contains(said, "households new: 10\n") {
		t.Fatalf("%v: %s", err, said)
	}
	for key, grams := range want {
		b, r := a.balance(key)
		if int64(b.Received) != grams || b.Accepted != b.Received || b.Diverted != b.Received {
			t.Errorf("%s: received %d g, want %d", key, b.Received, grams)
		}
		if r.Effort.Households < 8 || len(r.ByDonorClass) != 1 || r.ByDonorClass[0].Key != "household" {
			t.Errorf("%s: %d households, %v", key, r.Effort.Households, r.ByDonorClass)
		}
	}
	said, err = a.load("scraplog.csv", nil)
	if err != nil || !strings.Contains(said, "rows taken in: 0 ") || !strings.Contains(said, "already there: 121\n") || !strings.Contains(said, "households new: 0\n") {
		t.Fatalf("again: %v: %s", err, said)
	}
	for key, grams := range want {
		if b, r := a.balance(key); int64(b.Received) != grams || r.Header.Revision < 2 {
			t.Errorf("%s again: received %d g, revision %d", key, b.Received, r.Header.Revision)
		}
	}
	// The same rows in other buckets are no longer the same rows.
	said, err = a.load("scraplog.csv", func(in *ScrapLogImport) { in.Bucket = "20 L" })
	if !errors.Is(err, ErrFaults) || !strings.Contains(said, "[row.changed]") {
		t.Errorf("other buckets: %v: %s", err, said)
	}
	var out bytes.Buffer
	if n, err := Check(t.Context(), a.cfg, a.opt, &out, a.garden); err != nil || n != 0 {
		t.Errorf("the books: %d, %v: %s", n, err, out.String())
	}
}

func TestALogMayBeFedToABinAsItCame(t *testing.T) {
	t.Parallel()
	_, want := logged(t, "scraplog.csv")
	a := newAllotment(t)
	said, err := a.load("scraplog.csv", func(in *ScrapLogImport) { in.FedTo, in.Site = "long wedge", "potting shed" })
	if err != nil || !strings.Contains(said, "feedings: ") {
		t.Fatalf("%v: %s", err, said)
	}
	for key, grams := range want {
		b, r := a.balance(key)
		if int64(b.Fed) != grams || b.OnHandEnd != 0 || len(r.ByBin) != 1 || r.ByBin[0].Label != "Long wedge" {
			t.Errorf("%s: fed %d g of %d, %d g on hand", key, b.Fed, grams, b.OnHandEnd)
		}
	}
	if said, err = a.load("scraplog.csv", func(in *ScrapLogImport) { in.FedTo = "Long wedge" }); err != nil || !strings.Contains(said, "feedings: 0\n") {
		t.Errorf("again: %v: %s", err, said)
	}
}

func TestALogWithFaultsIsNotTakenInAtAll(t *testing.T) {
	t.Parallel()
	a := newAllotment(t)
	said, err := a.load("scraplog_faulty.csv", func(in *ScrapLogImport) { in.Materials = map[string]string{"Eggshells, crushed": "coffee_grounds"} })
	if !errors.Is(err, ErrFaults) {
		t.Fatalf("got %v: %s", err, said)
	}
	// Lines at fault as the file's own notes tell; 2, 18 and 20 are good.
	for _, line := range []string{"3", "4", "5", "6", "7", "8", "9", "10", "11", "12", "13", "14", "15", "16", "19"} {
		if !strings.Contains(said, "line "+line+",") && !strings.Contains(said, "line "+line+":") {
			t.Errorf("line %s is not named:\n%s", line, said)
		}
	}
	for _, line := range []string{"2", "18", "20"} {
		if strings.Contains(said, "line "+line+",") || strings.Contains(said, "line "+line+":") {
			t.Errorf("line %s is good:\n%s", line, said)
		}
	}
	if n := strings.Count(said, "line 19,"); n != 4 {
		t.Errorf("%d faults on line 19:\n%s", n, said)
	}
	if !strings.Contains(said, "columns not read: Note\n") || !strings.Contains(said, "nothing was written: 3 ") {
		t.Errorf("said\n%s", said)
	}
	if b, _ := a.balance("2026-spring"); b.Received != 0 {
		t.Errorf("wrote %d g", b.Received)
	}
}

func TestEveryRowThatTheGardenCannotPlaceIsNamed(t *testing.T) {
	t.Parallel()
	a := newAllotment(t)
	a.with(func(ctx context.Context, svc *service.Service) error {
		who, err := svc.ActorByEmail(ctx, importer)
		if err != nil {
			return err
		}
		_, err = svc.CreateHousehold(ctx, who, a.garden, farm.Household{Name: "Ines B."}, service.Once{})
		return err
	})
	log := "date,who,what,how much,unit\n2026-04-01,Ines B.,apples,1,kg\n2026-04-01,Plot 3,moon rock,1,kg\n" +
		"2026-04-01," + strings.Repeat("x", 130) + ",apples,1,kg\n2026-04-01,Plot 3,\"Pumpkin, halved\",1,kg\n"
	var out bytes.Buffer
	err := ImportScrapLog(t.Context(), a.cfg, a.opt, strings.NewReader(log), &out, ScrapLogImport{Garden: a.garden, As: importer})
	if !errors.Is(err, ErrFaults) {
		t.Fatalf("%v: %s", err, out.String())
	}
	for _, want := range []string{`line 2, column "who": `, `line 3, column "what": `, `line 4, column "who": `, "rows at fault: 3\n"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
}

func TestWhatCannotBeImportedIsSaid(t *testing.T) {
	t.Parallel()
	a := newAllotment(t)
	for code, change := range map[farm.Code]func(*ScrapLogImport){
		"account.not_found":  func(in *ScrapLogImport) { in.As = "nobody@lowfield.example" },
		"garden.not_found":   func(in *ScrapLogImport) { in.Garden = uuid.New() },
		"site.not_found":     func(in *ScrapLogImport) { in.Site = "Barn" },
		"bin.not_found":      func(in *ScrapLogImport) { in.FedTo = "Short wedge" },
		"material.not_found": func(in *ScrapLogImport) { in.Materials = map[string]string{"peel": "corrugated_cardboard"} },
		"import.options":     func(in *ScrapLogImport) { in.Density = "3.8 gal/lb" },
	} {
		if said, err := a.load("scraplog.csv", change); farm.CodeOf(err) != code {
			t.Errorf("got %v, want %s\n%s", err, code, said)
		}
	}
	said, err := a.load("scraplog.csv", func(in *ScrapLogImport) {
		in.Materials = map[string]string{"Apple cores": "citrus_peel"}
		in.Density = "455 g/L"
	})
	if err != nil || !strings.Contains(said, "rows taken in: 121 ") {
		t.Errorf("%v: %s", err, said)
	}
	if _, r := a.balance("2026-spring"); r.ByMaterial[0].Key != "citrus_peel" {
		t.Errorf("materials %v", r.ByMaterial)
	}
}
