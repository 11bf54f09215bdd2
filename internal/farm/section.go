package farm

import (
	"slices"

	"github.com/google/uuid"

	"midden/internal/measure"
)

// MoveTo gives the section at a later stage. A stage moves forward only,
// except that a section emptied since its feeding began may begin again: the
// turn-round. It refuses with section.stage.
func (s Section) MoveTo(to Stage, on measure.Day) (Section, error) {
	if to == s.Stage {
		return s, nil
	}
	from, next := slices.Index(Stages, s.Stage), slices.Index(Stages, to)
	switch {
	case next < 0:
		return s, Refuse("section.stage", "/stage", "stage: must be one of %v; got %q", Stages, string(to))
	case next > from:
		s.Stage = to
		return s, nil
	case to == Feeding && s.Empty():
		s.Stage, s.StartedOn = Feeding, on
		return s, nil
	}
	return s, Refuse("section.stage", "/stage",
		"stage: %s goes on from %s and not back to %s; only an emptied section begins again, as feeding", s.Name, s.Stage, to)
}

// Empty tells whether the section was emptied and has not begun again since.
func (s Section) Empty() bool {
	return !s.EmptiedOn.IsZero() && (s.StartedOn.IsZero() || s.StartedOn.Before(s.EmptiedOn))
}

// AddSection refuses with bin.state a section of a closed bin, with
// section.full one too many for the method, and with section.taken a second
// feeding section where food goes to one place only.
func (b Bin) AddSection(s Section, there []Section) error {
	if b.Status == BinClosed {
		return Refuse("bin.state", "", "%s is closed", b.Name)
	}
	most := 1001 // as many as there are positions
	switch b.Method {
	case Batch:
		most = 1
	case FlowThrough:
		most = 2
	case Trays:
		most = b.Shape.Count
	}
	if len(there) >= most {
		return Refuse("section.full", "", "a %s of this size has at most %d sections; %s has them", b.Method, most, b.Name)
	}
	return b.CheckSections(append(slices.Clone(there), s))
}

// CheckSections refuses with section.taken when more than one section of a
// wedge, a windrow or a tray stack is fed.
func (b Bin) CheckSections(all []Section) error {
	if b.Method != Wedge && b.Method != Windrow && b.Method != Trays {
		return nil
	}
	var fed Section
	for _, s := range all {
		switch {
		case s.Stage != Feeding:
		case fed.ID != uuid.Nil:
			return Refuse("section.taken", "/stage", "stage: %s is fed already; move it on before %s", fed.Name, s.Name)
		default:
			fed = s
		}
	}
	return nil
}
