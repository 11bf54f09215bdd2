package vermi

import (
	"math"
	"slices"

	"midden/internal/farm"
)

// TempSource says where a temperature came from.
type TempSource string

// Sources of a temperature, surest first.
const (
	TempMeasured TempSource = "bed_reading"
	TempRoom     TempSource = "room_reading"
	TempExpected TempSource = "expected"
	TempAssumed  TempSource = "assumed"
)

// assumedC is the bed temperature when nobody ever measured: the low middle of
// the 15-27 °C band.
const assumedC = 20

// staleDays is how long a reading speaks for the days after it.
const staleDays = 21

// doubt is the log standard deviation that a temperature's source adds to the
// appetite (chosen here, no source).
func (s TempSource) doubt() float64 {
	switch s {
	case TempMeasured:
		return 0.05
	case TempRoom:
		return 0.15
	case TempExpected:
		return 0.2
	}
	return 0.35
}

type reading struct {
	on Day
	c  float64
}

// drive is what acts on the worms day by day: temperature, moisture, stress.
type drive struct {
	rec       *Record
	bed, room []reading
	first     Day
	looks     []look // by day, first to AsOf
}

// look is what the checks up to a day said.
type look struct {
	moisturePct float64
	check       int // index of the last check, -1 for none
}

func newDrive(r *Record) drive {
	d := drive{rec: r, first: r.firstDay()}
	for _, c := range r.Checks {
		if c.BedC != nil {
			d.bed = append(d.bed, reading{c.On, *c.BedC})
		}
		if c.RoomC != nil {
			d.room = append(d.room, reading{c.On, *c.RoomC})
		}
	}
	for _, t := range r.Temps {
		if t.Room {
			d.room = append(d.room, reading{t.On, t.C})
		} else {
			d.bed = append(d.bed, reading{t.On, t.C})
		}
	}
	d.bed, _ = upTo(d.bed, r.AsOf, func(x reading) Day { return x.on })
	d.room, _ = upTo(d.room, r.AsOf, func(x reading) Day { return x.on })
	d.bed = slices.DeleteFunc(d.bed, reading.absurd)
	d.room = slices.DeleteFunc(d.room, reading.absurd)
	now := look{moisturePct: assumedMoisturePct, check: -1}
	for day := d.first; day <= r.AsOf; day++ {
		for now.check+1 < len(r.Checks) && r.Checks[now.check+1].On <= day {
			now.check++
			if m, ok := squeezed(r.Checks[now.check]); ok {
				now.moisturePct = m
			}
		}
		d.looks = append(d.looks, now)
	}
	return d
}

// absurd tells a slip of the pen, such as 200 °C or a figure that is no number.
func (x reading) absurd() bool { return !(x.c > -60 && x.c < 90) }

// interpolate reads a series at a day: straight between readings not too far
// apart, held for staleDays beyond the last, and back to the first.
func interpolate(s []reading, day Day) (c float64, ok bool) {
	for i, x := range s {
		if x.on < day {
			continue
		}
		if i == 0 {
			return x.c, x.on-day <= staleDays
		}
		p := s[i-1]
		if x.on-p.on > 2*staleDays && day-p.on > staleDays && x.on-day > staleDays {
			return 0, false
		}
		return p.c + (x.c-p.c)*float64(day-p.on)/float64(x.on-p.on), true
	}
	if len(s) == 0 || day-s[len(s)-1].on > staleDays {
		return 0, false
	}
	return s[len(s)-1].c, true
}

// tempC is the bed temperature used for a day and where it came from.
func (d *drive) tempC(day Day) (float64, TempSource) {
	if ahead := int(day - d.rec.AsOf); ahead > 0 {
		if n := len(d.rec.Expected); n > 0 {
			if x := (reading{day, d.rec.Expected[min(ahead, n)-1]}); !x.absurd() {
				return x.c, TempExpected
			}
		}
		c, src := d.tempC(d.rec.AsOf)
		if src == TempMeasured || src == TempRoom {
			src = TempExpected
		}
		return c, src
	}
	if c, ok := interpolate(d.bed, day); ok {
		return c, TempMeasured
	}
	if c, ok := interpolate(d.room, day); ok {
		return c, TempRoom
	}
	return assumedC, TempAssumed
}

// rising tells whether the last two bed readings within two weeks went up by
// half a degree or more, or the coming days are expected warmer.
func (d *drive) rising() bool {
	n := len(d.bed)
	if n >= 2 && d.rec.AsOf-d.bed[n-2].on <= 14 && d.bed[n-1].c-d.bed[n-2].c >= 0.5 {
		return true
	}
	now, _ := d.tempC(d.rec.AsOf)
	return len(d.rec.Expected) > 0 && d.rec.Expected[0] > now+0.5
}

// hotC is the hottest spot found within the last three days, else the bed.
func (d *drive) hotC() float64 {
	hot, _ := d.tempC(d.rec.AsOf)
	for _, c := range d.rec.Checks {
		if c.HotC != nil && d.rec.AsOf-c.On <= 3 {
			hot = math.Max(hot, *c.HotC)
		}
	}
	return hot
}

// assumedMoisturePct is the bed moisture when nobody ever squeezed.
const assumedMoisturePct = 75

func squeezed(c Check) (pct float64, ok bool) {
	top, okT := MoistureOfSqueeze(c.SqueezeTop)
	bottom, okB := MoistureOfSqueeze(c.SqueezeBottom)
	switch {
	case okT && okB:
		return (top + bottom) / 2, true
	case okT:
		return top, true
	case okB:
		return bottom, true
	}
	return 0, false
}

// factors are f, g and h of a day.
func (d *drive) factors(day Day) (f, g, h float64) {
	t, _ := d.tempC(day)
	f = TemperatureFactor(d.rec.Bin.Species, t)
	l := d.looks[min(max(int(day-d.first), 0), len(d.looks)-1)]
	if l.check < 0 {
		return f, MoistureFactor(l.moisturePct), 1
	}
	c := d.rec.Checks[l.check]
	return f, MoistureFactor(l.moisturePct), stressAfter(c.Smell, c.Leaving, float64(day-c.On))
}

// stressAfter lets the stress of a check fade over two weeks (chosen here, no
// source): the next check says whether it did.
func stressAfter(smell farm.Smell, leaving bool, days float64) float64 {
	h := StressFactor(smell, leaving)
	return h + (1-h)*clamp(days/14, 0, 1)
}

// ramp is the share of full appetite of a new bin: nothing before day 5, then a
// quarter rising to all of it over eight weeks (common practice: first small
// feed after 3 to 7 days, ramp over weeks).
func (d *drive) ramp(day Day) float64 {
	if d.rec.Bin.SetUpOn == 0 {
		return 1
	}
	return line(float64(day-d.rec.Bin.SetUpOn), [][2]float64{{4.5, 0}, {5, 0.25}, {56, 1}})
}
