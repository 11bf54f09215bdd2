package farm

import (
	"time"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// longestCover is the most days that one cover may last.
const longestCover = 366

// Cover is a named stand-in for a keeper's bins on some days.
type Cover struct {
	ID        uuid.UUID
	KeeperID  uuid.UUID
	StandInID uuid.UUID
	Days      measure.DayRange // End is not part of it
	Handover  string           // what the stand-in should know
	CreatedAt time.Time
	Version   int
}

// Validate refuses with cover.invalid. keeper and standIn are the two people.
func (c Cover) Validate(keeper, standIn Member) error {
	var f Faults
	if n := c.Days.End.Sub(c.Days.Start); n < 1 || n > longestCover {
		f.Add("cover.invalid", "/to", "to: must be 1 to %d days after from, %s, and is not part of the cover; got %s",
			longestCover, c.Days.Start, c.Days.End)
	}
	if !caresForBins(keeper) {
		f.Add("cover.invalid", "/keeper_member_id", "keeper_member_id: must be a keeper or coordinator who is still there; got a %s", keeper.Role)
	}
	if !caresForBins(standIn) {
		f.Add("cover.invalid", "/stand_in_member_id", "stand_in_member_id: must be a keeper or coordinator who is still there; got a %s", standIn.Role)
	}
	if c.KeeperID == c.StandInID {
		f.Add("cover.invalid", "/stand_in_member_id", "stand_in_member_id: must be somebody else than the keeper")
	}
	f.Keep(CheckText("cover.invalid", "/handover", c.Handover, 2000))
	return f.Err()
}

func caresForBins(m Member) bool { return m.Active && m.Role.May(CareForBins) }

// MayCareFor decides by role and by object: a coordinator may care for every
// bin, a keeper for those they keep, and on the days of a cover for those of
// the keeper they stand in for. It refuses with bin.not_yours.
func MayCareFor(m Member, b Bin, covers []Cover, on measure.Day) error {
	switch {
	case m.Role == Coordinator, m.Role == Keeper && b.Keeps(m.ID):
		return nil
	case m.Role == Keeper:
		for _, c := range covers {
			if c.StandInID == m.ID && c.Days.Contains(on) && b.Keeps(c.KeeperID) {
				return nil
			}
		}
	}
	return Refuse("bin.not_yours", "", "bin %q is cared for by its keepers and by who covers for them on %s; you are neither", b.Name, on)
}
