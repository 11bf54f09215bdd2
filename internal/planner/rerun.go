package planner

import "context"

// rerun is run for a tree that is nearly right, after reprice: few arcs help, so
// looking for one takes longer than the pivots. It gathers a short list of arcs
// that help, works it off, best first, and gathers again (candidate lists: Ahuja,
// Magnanti and Orlin, Network Flows, 1993, section 11.5).
func (s *simplex) rerun(ctx context.Context, budget int64) stop {
	list := make([]int32, 0, rerunList)
	for done := int64(0); ; {
		list = s.gather(list[:0])
		if len(list) == 0 {
			return proven
		}
		for len(list) > 0 {
			best, in := int64(0), -1
			for k := 0; k < len(list); {
				e := list[k]
				r := int64(s.state[e]) * s.reduced(e)
				if r >= 0 {
					list[k] = list[len(list)-1]
					list = list[:len(list)-1]
					continue
				}
				if r < best {
					best, in = r, k
				}
				k++
			}
			if in < 0 {
				break
			}
			if budget >= 0 && done >= budget {
				return pivotsOut
			}
			if done%pivotsPerLook == 0 && ctx.Err() != nil {
				return cancelled
			}
			done++
			s.pivots++
			s.pivot(list[in])
		}
	}
}

// rerunList is how many arcs are gathered at a time, by trial.
const rerunList = 30

// gather takes arcs that help from where pricing last stopped, until the list is
// full or every arc was seen.
func (s *simplex) gather(list []int32) []int32 {
	m := len(s.flow)
	cost, from, to, state, pot := s.cost[:m], s.net.from[:m], s.net.to[:m], s.state[:m], s.pot
	e := s.next
	for k := 0; k < m; k++ {
		if e >= m {
			e = 0
		}
		if int64(state[e])*(cost[e]+pot[to[e]]-pot[from[e]]) < 0 {
			if list = append(list, int32(e)); len(list) == cap(list) {
				e++
				break
			}
		}
		e++
	}
	s.next = e
	return list
}
