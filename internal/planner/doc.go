// Package planner matches food scraps to worm bins over the coming days and
// proves how good the match is.
//
// A Problem says what will be on hand (lots), where it can go (bins on the days
// their keepers are there), and what limits it: appetite, weekly caps, go-easy
// groups, ripe bedding, freezer drawers, use-by days. Solve finds the feedings
// of least cost, where leaving food uneaten is the dearest thing of all. The
// plan comes with a proven lower bound, so its gap is known, and with plain
// reasons for where each lot goes.
//
// The model is a flow of food through a network spread out over the days
// (Ahuja, Magnanti and Orlin, Network Flows, 1993, chapters 11 and 19.6), with
// the cost of crowding a bin rising in steps. With whole numbers in, such a flow
// has a whole-number best answer. The solver is a primal network simplex on a
// strongly feasible tree (Cunningham, Mathematical Programming 11, 1976).
//
// Two refinements make the plan more than a flow. A price on visits (Prices.Visit)
// is handled by lower bounds that are flows again, local search, and branch and
// bound. Whole containers (Problem.ContainerUnits) recast the network so that a
// unit of flow is a container. What a lot holds beyond whole containers is left
// over, and the plan says so.
//
// The package knows no database, network, clock or files. Values and bounds are
// integer arithmetic; floating point, rounded step by step, only steers the search
// for good bounds. The same Problem gives the same Result, byte for byte.
//
// Start reading in problem.go for the data, network.go for the model, then
// solve.go; for the refinements refine.go, then visits.go and containers.go. Check judges any plan without looking at the network at all.
package planner
