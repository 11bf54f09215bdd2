package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// TransferReason is why worms were moved.
type TransferReason string

// Reasons of a transfer.
const (
	ForSplit    TransferReason = "split"
	ForLure     TransferReason = "lure"
	ForSetUp    TransferReason = "set_up"
	ForRescue   TransferReason = "rescue"
	ForWeighing TransferReason = "weighing"
	ForGift     TransferReason = "gift"
	ForPurchase TransferReason = "purchase"
	ForOther    TransferReason = "other"
)

// TransferReasons lists the reasons of a transfer.
var TransferReasons = []TransferReason{ForSplit, ForLure, ForSetUp, ForRescue, ForWeighing, ForGift, ForPurchase, ForOther}

// WormEnd is one end of a transfer: a bin's section, or somewhere outside the
// garden by name. Worms are never let go in the open ground.
type WormEnd struct {
	BinID     uuid.UUID
	SectionID uuid.UUID
	Outside   string
}

// IsOutside tells whether the end lies outside the garden.
func (e WormEnd) IsOutside() bool { return e.Outside != "" }

func (e WormEnd) check(f *Faults, at string) {
	switch {
	case e.IsOutside() && (e.BinID != uuid.Nil || e.SectionID != uuid.Nil):
		f.Add("transfer.invalid", at+"/outside", "outside: an end is a bin's section or outside, not both")
	case e.IsOutside():
		if err := CheckName("transfer.invalid", at+"/outside", e.Outside, 200); err != nil {
			f.Keep(err)
		}
	case e.BinID == uuid.Nil:
		f.Add("transfer.invalid", at+"/bin_id", "bin_id: name a bin and its section, or who outside the garden")
	case e.SectionID == uuid.Nil:
		f.Add("transfer.invalid", at+"/section_id", "section_id: must name a section of the bin")
	}
}

// Transfer is live worms moved. Grams is what left the first end; Lost of them
// died on the way; Found is what the books did not know of.
type Transfer struct {
	ID            uuid.UUID
	From          WormEnd
	To            WormEnd
	Worms         WormAmount
	Species       Species
	BeddingAlong  *Entered // bed that went along: a note
	LostEntered   measure.Quantity
	Reason        TransferReason
	Note          string
	Grams         measure.Grams
	Lost          measure.Grams
	Found         measure.Grams
	RelSDPermille int
	EntryID       uuid.UUID
	OccurredAt    time.Time
	Day           measure.Day
	RecordedAt    time.Time
	RecordedBy    uuid.UUID
	Reversed      bool
}

// Validate refuses with transfer.invalid, and with transfer.same_section worms
// that would stay where they are. The masses are checked by Settle.
func (t Transfer) Validate() error {
	var f Faults
	t.From.check(&f, "/from")
	t.To.check(&f, "/to")
	switch {
	case t.From.IsOutside() && t.To.IsOutside():
		f.Add("transfer.invalid", "/to/outside", "outside: one end must be a bin of this garden")
	case t.From.SectionID != uuid.Nil && t.From.SectionID == t.To.SectionID:
		f.Add("transfer.same_section", "/to/section_id", "section_id: worms move from one section to another; both ends are %s", t.To.SectionID)
	case t.From.IsOutside() && t.Worms.Method == WormsShare:
		f.Add("worms.invalid", "/worms/method", "method: a share is of a section of this garden; weigh, count or sample worms from outside")
	}
	if t.Species != "" && !oneOf(t.Species, SpeciesGroups) {
		f.Add("transfer.invalid", "/species", "species: must be one of %v; got %q", SpeciesGroups, string(t.Species))
	}
	if !oneOf(t.Reason, TransferReasons) {
		f.Add("transfer.invalid", "/reason", "reason: must be one of %v; got %q", TransferReasons, string(t.Reason))
	}
	f.Keep(CheckText("transfer.invalid", "/note", t.Note, 1000))
	return f.Err()
}

// CheckArrival refuses with bin.state worms for a closed bin, and with
// transfer.quarantine worms from outside for a bin that is neither in
// quarantine nor being set up: they are watched for two to four weeks for
// invasive jumping worms before they meet others (common practice, no source).
func (t Transfer) CheckArrival(to Bin) error {
	if to.Status == BinClosed {
		return Refuse("bin.state", "/to/bin_id", "bin_id: %s is closed", to.Name)
	}
	if t.From.IsOutside() && to.Status != BinQuarantine && to.Status != BinSetUp {
		return Refuse("transfer.quarantine", "/to/bin_id",
			"bin_id: worms from outside stay two to four weeks in a bin in quarantine, or begin one being set up; %s is %s", to.Name, to.Status)
	}
	return nil
}

// WormBooks is what a section's books hold of one species on a day.
type WormBooks struct {
	Known   bool          // some were recorded there on or before the day, and the last look saw some
	Closing measure.Grams // at the end of the day
	Least   measure.Grams // that day or any later one: what can be taken
}

// TakeWorms works out an amount taken from a section, and how much of it the
// books did not know of. It refuses with worms.invalid, and with worms.none
// when there were none, or when only a measured amount could show more than
// the books hold.
func TakeWorms(a WormAmount, at string, books WormBooks) (w WormWeight, found measure.Grams, err error) {
	if !books.Known {
		return w, 0, Refuse("worms.none", at, "worms: none are on this section's books on that day, or the last look at it saw none; record first how they came there")
	}
	if a.Method == WormsShare && books.Closing <= 0 {
		return w, 0, Refuse("worms.none", at+"/share_percent", "share_percent: the books hold no worms of this section on that day; weigh or count those that are there")
	}
	w, err = a.Work(at, books.Closing)
	if err != nil {
		return w, 0, err
	}
	if w.Net <= books.Least {
		return w, 0, nil
	}
	if !a.Method.Measured() {
		return w, 0, Refuse("worms.none", at, "worms: the books hold %d g from that day on, and %d g by %s is more; weigh or count them", books.Least, w.Net, a.Method)
	}
	return w, w.Net - books.Least, nil
}

// Settle puts the grams on a transfer. It refuses with transfer.invalid more
// dead worms than were taken.
func (t Transfer) Settle(w WormWeight, found measure.Grams) (Transfer, error) {
	t.Grams, t.RelSDPermille, t.Found, t.Lost = w.Net, w.RelSDPermille, found, 0
	if t.LostEntered.Value == "" {
		return t, nil
	}
	g, err := t.LostEntered.Grams()
	if err != nil {
		return t, Refuse("transfer.invalid", "/lost", "lost: must be a mass such as 20 g; got %q %q: %s", t.LostEntered.Value, t.LostEntered.Unit, plain(err))
	}
	if g < 0 || g > t.Grams {
		return t, Refuse("transfer.invalid", "/lost", "lost: must be between 0 g and the %d g that were taken; got %d g", t.Grams, g)
	}
	t.Lost = g
	return t, nil
}
