package planner

// ascend raises the bound for the plans that agree with fix by moving the
// multipliers w up the subgradient, in Polyak's step length with the direction
// smoothed (Camerini, Fratta and Maffioli, Mathematical Programming Study 3,
// 1975). w holds the best multipliers afterwards, and the flow, the costs and
// the potentials are those of a solution with them. It returns the best scaled
// bound; done is false when a solve was cut short.
//
// Floating point only steers. Multipliers are rounded down to whole numbers, and
// any whole multipliers give a bound in whole numbers. Each product is rounded on
// its own, so that no machine fuses it with a sum.
func (f *visitSearch) ascend(fix []int8, w []int64, steps int) (bound int64, done bool) {
	fees := f.price(fix, w)
	if !f.solve() {
		return 0, false
	}
	f.judge()
	bound = f.s.value() + fees
	now := make([]float64, len(w))
	for k := range w {
		now[k] = float64(w[k])
	}
	best := append([]int64(nil), w...)
	dir := make([]float64, len(w))
	theta, stall := 1.0, 0
	last := bound
	for range steps {
		length := 0.0
		for k := range f.link {
			l := &f.link[k]
			if fix[l.slot] != slotFree {
				dir[k] = 0
				continue
			}
			y := 1.0
			if f.load[l.slot] < f.tangent[l.slot] {
				y = float64(f.load[l.slot]) / float64(f.tangent[l.slot])
			}
			d := float64(f.s.flow[l.arc]) - float64(float64(l.room)*y)
			if now[k] <= 0 && d < 0 {
				d = 0
			}
			dir[k] = float64(0.6*dir[k]) + float64(0.4*d)
			length += float64(dir[k] * dir[k])
		}
		if length == 0 || theta < 1e-3 {
			break
		}
		step := float64(theta*float64(f.best*costScale-last)) / length
		for k := range now {
			now[k] = max(0, now[k]+float64(step*dir[k]))
			w[k] = int64(min(now[k], float64(MaxCost*costScale)))
		}
		f.fit(w)
		for k := range now {
			if over := now[k] - float64(w[k]); over >= 1 {
				now[k] = float64(w[k])
			}
		}
		fees = f.price(fix, w)
		if !f.solve() {
			return 0, false
		}
		f.judge()
		last = f.s.value() + fees
		if last > bound {
			if last-bound > f.best/10_000 { // a ten-millionth of the value, scaled
				stall = 0
			}
			bound = last
			copy(best, w)
			if f.beaten(bound) {
				break
			}
		} else if stall++; stall >= 12 {
			stall, theta = 0, theta*0.6
			for k := range now {
				now[k], dir[k] = float64(best[k]), 0
			}
		}
	}
	copy(w, best)
	fees = f.price(fix, w)
	if !f.solve() {
		return 0, false
	}
	f.judge()
	return f.certified() + fees, true
}

// fit scales multipliers down until those of a slot spread no more than its fee.
func (f *visitSearch) fit(w []int64) {
	for i, own := range f.ofSlot {
		spent := 0.0
		for _, k := range own {
			spent += float64(float64(w[k]) * float64(f.link[k].room))
		}
		if fee := float64(f.fee[i]); spent > fee {
			for _, k := range own {
				w[k] = int64(float64(w[k]) * (fee / spent))
			}
		}
		left := f.fee[i]
		for _, k := range own { // to the unit, whatever the rounding did
			if room := f.link[k].room; w[k] > left/room {
				w[k] = left / room
			}
			left -= w[k] * f.link[k].room
		}
	}
}
