package vermi

import "midden/internal/farm"

// Sources named in the catalogue. NRAES-54 is the On-Farm Composting Handbook
// (Rynk, ed., 1992); its Table A.1 was not seen, so its figures carry the mark
// "memory".
const (
	srcNRAES    = "On-Farm Composting Handbook, NRAES-54 (1992), Table A.1"
	srcNRAESCN  = "C:N of NRAES-54 Table A.1, as quoted in a reprint"
	srcFoodVol  = "US EPA volume-to-weight factors 2016: 3.8 lb/gal; range 396 lb/yd3 to the older 7.49 lb/gal"
	srcEPA      = "US EPA volume-to-weight factors 2016"
	srcCornell  = "Cornell Composting, moisture and C/N spreadsheet"
	srcCornell2 = "Cornell Composting, fact sheets"
	srcUSDA     = "USDA food composition tables"
	srcZhang    = "Zhang et al. 2007, Bioresource Technology 98:929"
	srcSolomon  = "Cornell Composting gives 20; Solomon's handbook about 12"
	srcNone     = "common practice, no source"
	srcLike     = "taken as the vegetable produce of NRAES-54 Table A.1"
	srcFruit    = "taken as the fruit wastes of NRAES-54 Table A.1"
	srcBedding  = "bedding table in a vermicompost training guide, after NRAES-54"
)

// Cautions said more than once.
const (
	cautionHerbicide = "Hay, straw, grass and manure may carry persistent weedkiller: ask the grower, record the answer, and try a few bean seeds in it before use. Follow local guidance."
	cautionManure    = "Manure may carry wormer that kills worms, germs, and persistent weedkiller: ask what the animals were given, age it, test a handful of worms first, wear gloves and wash hands. Follow local guidance."
	cautionPaper     = "No glossy, waxed, foil or taped paper; take off staples, labels and tape."
	cautionWood      = "Only clean, untreated wood: never painted, glued, pressure-treated or board dust, and keep the dust out of lungs."
	cautionSeeds     = "A worm bed does not heat and does not kill seeds."
	cautionSour      = "Go easy: sour peel in bulk turns a bed acid and drives worms off."
)

func read(v, lo, hi float64, src string) farm.Figure {
	return farm.Figure{Value: v, Low: lo, High: hi, Source: src, Trust: farm.TrustRead}
}

func recalled(v, lo, hi float64, src string) farm.Figure {
	return farm.Figure{Value: v, Low: lo, High: hi, Source: src + " (from memory)", Trust: farm.TrustMemory}
}

func habit(v, lo, hi float64) farm.Figure {
	return farm.Figure{Value: v, Low: lo, High: hi, Source: srcNone, Trust: farm.TrustPractice}
}

// lbYd3 turns pounds per cubic yard into grams per litre.
func lbYd3(v float64) float64 { return v * 453.59237 / 764.554857984 }

// Catalogue is the published list of scraps and bedding in a fixed order, made
// anew at each call so that a garden's changes never reach another's. Shelf
// life is days fresh in a lidded bucket (common practice, no source); for
// bedding it is days in a dry place.
func Catalogue() []farm.Material {
	return append(scraps(), beddings()...)
}

// MaterialByKey finds one catalogue entry.
func MaterialByKey(key string) (farm.Material, bool) {
	for _, m := range Catalogue() {
		if m.Key == key {
			return m, true
		}
	}
	return farm.Material{}, false
}

// Wetted is a dry bedding material soaked or aged to a moisture in percent of
// wet mass. Volume is taken as unchanged, so bulk density rises with the water
// (common practice, no source). A goal below the material's own moisture
// changes nothing.
func Wetted(m farm.Material, moisturePct float64) farm.Material {
	if moisturePct <= m.MoisturePct.Value || moisturePct >= 100 {
		return m
	}
	f := (100 - m.MoisturePct.Value) / (100 - moisturePct)
	d := m.DensityGPerL
	d.Value, d.Low, d.High = d.Value*f, d.Low*f, d.High*f
	d.Source = "dry density with the water added, volume taken as unchanged: " + d.Source
	m.DensityGPerL = d
	m.MoisturePct = farm.Figure{Value: moisturePct, Low: moisturePct, High: moisturePct, Source: "wetted to this", Trust: farm.TrustPractice}
	return m
}
