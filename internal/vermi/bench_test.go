package vermi

import "testing"

func BenchmarkEstimate(b *testing.B) {
	r := steady()
	for b.Loop() {
		Estimate(r)
	}
}

func BenchmarkCapacity(b *testing.B) {
	r := steady()
	for b.Loop() {
		Capacity(r, 28, []int{1, 4, 8, 11, 15, 18, 22, 25})
	}
}

func BenchmarkLeastBedding(b *testing.B) {
	m, _ := MaterialByKey("vegetable_trimmings")
	feed := []Component{ComponentOf(m, 4000)}
	var kinds []BeddingKind
	for _, m := range beddings() {
		kinds = append(kinds, BeddingOf(m, 3000))
	}
	t := DefaultTargets(true)
	t.CoverL = 20
	for b.Loop() {
		if _, err := LeastBedding(feed, kinds, t); err != nil {
			b.Fatal(err)
		}
	}
}
