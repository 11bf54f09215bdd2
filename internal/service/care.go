package service

import (
	"time"

	"midden/internal/farm"
	"midden/internal/measure"
	"midden/internal/store"
)

// coversFor asks, with the first batch of a use case, for the covers that may
// count for something that occurred at an instant (zero: now): the garden's
// day is not known yet, but it is at most one day off the UTC day.
func (s *Service) coversFor(b *store.Batch, told time.Time) *store.Rows[farm.Cover] {
	from := s.from(told)
	return b.CoversBetween(measure.DayRange{Start: from, End: from.Add(3)})
}

// mayCareFor refuses with bin.not_yours a bin that the member neither keeps
// nor covers on the day. covers are from coversFor. The role was judged before:
// a use case that ends here starts with the action farm.CareForBins.
func (w *Work) mayCareFor(bin farm.Bin, covers *store.Rows[farm.Cover], on measure.Day) error {
	return farm.MayCareFor(w.Member, bin, covers.Values, on)
}
