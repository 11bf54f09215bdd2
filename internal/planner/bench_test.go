package planner

import (
	"context"
	"runtime"
	"syscall"
	"testing"
)

// BenchmarkMediumFlow is the search alone: 30 bins, 300 lots, 28 days.
func BenchmarkMediumFlow(b *testing.B) {
	n := build(readInstance(b, "medium").problem())
	b.ReportAllocs()
	cpu := cpuMS(b)
	for b.Loop() {
		s := newSimplex(n)
		s.run(context.Background(), -1)
		b.ReportMetric(float64(s.pivots), "pivots")
	}
	b.ReportMetric((cpuMS(b)-cpu)/float64(b.N), "cpu-ms/op")
}

// BenchmarkMediumPlan is all of Solve, reasons and proof included.
func BenchmarkMediumPlan(b *testing.B) {
	p := readInstance(b, "medium").problem()
	b.ReportAllocs()
	cpu := cpuMS(b)
	for b.Loop() {
		if _, err := Solve(context.Background(), p, Options{Explain: true}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric((cpuMS(b)-cpu)/float64(b.N), "cpu-ms/op")
}

// BenchmarkLargeFlow is the search alone: 1,000 bins, 20,000 lots, 28 days.
func BenchmarkLargeFlow(b *testing.B) {
	n := build(bigGarden(21, 1000, 20_000, 28, 100, 12, 4))
	b.ReportAllocs()
	cpu := cpuMS(b)
	for b.Loop() {
		s := newSimplex(n)
		s.run(context.Background(), -1)
		b.ReportMetric(float64(s.pivots), "pivots")
		b.ReportMetric(float64(n.arcs()), "arcs")
		b.ReportMetric(float64(n.nodes()), "nodes")
	}
	b.ReportMetric((cpuMS(b)-cpu)/float64(b.N), "cpu-ms/op")
}

// BenchmarkLargePlan is all of Solve but the reasons. held-MB is what the
// process has from the system at the end.
func BenchmarkLargePlan(b *testing.B) {
	p := bigGarden(21, 1000, 20_000, 28, 100, 12, 4)
	b.ReportAllocs()
	cpu := cpuMS(b)
	for b.Loop() {
		r, err := Solve(context.Background(), p, Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.Totals.Fed)/float64(r.Totals.Supply), "fed/supply")
	}
	b.ReportMetric((cpuMS(b)-cpu)/float64(b.N), "cpu-ms/op")
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	b.ReportMetric(float64(m.Sys)/(1<<20), "held-MB")
}

// cpuMS is the processor time this process has used, in milliseconds: on a
// shared machine it says more than the clock.
func cpuMS(b *testing.B) float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec)*1e3 + float64(u.Utime.Usec+u.Stime.Usec)/1e3
}

// refinedPlan measures Solve on a stored instance with its price on visits.
func refinedPlan(b *testing.B, name string, containers bool) {
	in := readInstance(b, name)
	p := in.problem()
	p.Prices.Visit = in.VisitCost
	if containers {
		p.ContainerUnits = in.Quantum
	}
	b.ReportAllocs()
	cpu := cpuMS(b)
	for b.Loop() {
		r, err := Solve(context.Background(), p, Options{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.GapPPM), "gap-ppm")
		b.ReportMetric(float64(r.Work.Branches), "branches")
		b.ReportMetric(float64(r.Work.Pivots), "pivots")
	}
	b.ReportMetric((cpuMS(b)-cpu)/float64(b.N), "cpu-ms/op")
}

func BenchmarkMediumVisits(b *testing.B)     { refinedPlan(b, "medium", false) }
func BenchmarkMediumContainers(b *testing.B) { refinedPlan(b, "medium", true) }
func BenchmarkSlack1Visits(b *testing.B)     { refinedPlan(b, "slack1", false) }

// BenchmarkMediumSpareRoomVisits has the medium garden's bins and lots of 2 to
// 8 kg: with room to spare, visits are the hardest to choose. The search is cut
// short; gap-ppm says how near it got.
func BenchmarkMediumSpareRoomVisits(b *testing.B) {
	in := readInstance(b, "medium")
	for i := range in.Lots {
		in.Lots[i].Mass = int64(20 * (1 + i%4))
	}
	p := in.problem()
	p.Prices.Visit = in.VisitCost
	b.ReportAllocs()
	cpu := cpuMS(b)
	for b.Loop() {
		r, err := Solve(context.Background(), p, Options{MaxNodes: 100})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(r.GapPPM), "gap-ppm")
	}
	b.ReportMetric((cpuMS(b)-cpu)/float64(b.N), "cpu-ms/op")
}
