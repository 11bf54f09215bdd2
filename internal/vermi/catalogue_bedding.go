package vermi

import "midden/internal/farm"

// carbon makes a catalogue row for bedding, kept dry: nitrogen, C:N, moisture, density.
func carbon(key, name string, n, cn, m, d farm.Figure, caution string) farm.Material {
	return farm.Material{Key: key, Name: name, Use: farm.BeddingUse, Group: farm.Plain, NitrogenPct: n, CarbonToN: cn,
		MoisturePct: m, DensityGPerL: d, ShelfLifeDays: 365, Caution: caution}
}

func beddings() []farm.Material {
	return []farm.Material{
		carbon("corrugated_cardboard", "Corrugated cardboard, shredded",
			recalled(0.10, 0.08, 0.12, srcNRAES), read(563, 450, 600, srcBedding), recalled(8, 5, 10, srcNRAES),
			read(lbYd3(106), 40, lbYd3(259), srcEPA), cautionPaper),
		carbon("newsprint", "Newsprint, shredded",
			recalled(0.10, 0.06, 0.14, srcNRAES), recalled(625, 170, 852, srcNRAES), read(5.5, 3, 8, srcCornell),
			recalled(lbYd3(218), 40, lbYd3(600), srcNRAES), cautionPaper+" Published C:N runs from 170 to 852."),
		carbon("office_paper", "Office and mixed paper, shredded",
			recalled(0.22, 0.2, 0.25, srcNRAES), read(152, 127, 178, srcBedding), recalled(19, 6, 20, srcNRAES),
			read(lbYd3(245), 40, lbYd3(875), srcEPA), cautionPaper),
		carbon("egg_cartons", "Paper egg cartons, torn",
			recalled(0.10, 0.06, 0.14, "taken as newsprint of NRAES-54 Table A.1"), recalled(500, 170, 852, "taken as newsprint of NRAES-54 Table A.1"),
			habit(7, 5, 10), habit(40, 25, 70), "Plain paper pulp only; take off labels."),
		carbon("leaves", "Autumn leaves",
			recalled(0.9, 0.5, 1.3, srcNRAES), read(54, 30, 80, srcCornell2), recalled(38, 10, 60, srcNRAES),
			recalled(lbYd3(200), lbYd3(100), lbYd3(300), srcNRAES), "No street sweepings, glossy evergreen leaves or diseased leaves."),
		carbon("leaf_mould", "Leaf mould",
			habit(1.5, 1, 2), habit(25, 15, 35), habit(55, 40, 70), habit(300, 200, 450), "May hold seeds and other worms: look it over, sieve if in doubt."),
		carbon("straw", "Straw",
			recalled(0.7, 0.3, 1.1, srcNRAES), read(80, 48, 150, srcBedding), recalled(12, 4, 27, srcNRAES),
			recalled(lbYd3(227), lbYd3(58), lbYd3(378), srcNRAES), cautionHerbicide),
		carbon("hay", "Hay",
			recalled(2.1, 0.7, 3.6, srcNRAES), read(23, 15, 32, srcBedding), recalled(9, 8, 10, srcNRAES),
			habit(120, 60, 200), cautionHerbicide+" "+cautionSeeds),
		carbon("sawdust", "Sawdust",
			recalled(0.11, 0.06, 0.8, srcNRAES), read(442, 142, 750, srcBedding), recalled(39, 19, 65, srcNRAES),
			recalled(lbYd3(410), lbYd3(350), lbYd3(450), srcNRAES), cautionWood),
		carbon("wood_chips", "Wood chips",
			recalled(0.09, 0.04, 0.2, srcNRAES), recalled(600, 212, 1313, srcNRAES), habit(40, 15, 60),
			recalled(lbYd3(532), lbYd3(445), lbYd3(620), srcNRAES), cautionWood+" Breaks down very slowly: for drainage, not for food."),
		carbon("coir", "Coir", habit(0.5, 0.3, 0.8), habit(95, 75, 120), habit(15, 10, 20), habit(90, 60, 150), "Choose rinsed coir: some is salty."),
		carbon("corn_stalks", "Maize stalks, chopped",
			recalled(0.7, 0.6, 0.8, srcNRAES), read(66, 60, 73, srcBedding), recalled(12, 8, 20, srcNRAES),
			recalled(lbYd3(32), 15, 60, srcNRAES), cautionHerbicide),
		carbon("mature_compost", "Mature compost",
			habit(1.8, 1.2, 2.5), read(12, 10, 16, "Cornell Composting: finished compost is near 10:1"), habit(50, 40, 60),
			recalled(593, 450, 700, "planning figure of 1,000 lb/yd3, NRAES-54"), "Only compost that is cool and no longer smells; dampen before handling, gloves on, wash hands."),
	}
}
