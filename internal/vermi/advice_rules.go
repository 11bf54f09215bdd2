package vermi

import (
	"fmt"
	"slices"

	"midden/internal/farm"
)

// Rules is the table of advice, in the order shown among equals. The caution
// that local guidance comes first holds for all of it.
func Rules() []Rule {
	return slices.Concat(safetyRules(), bedRules(), foodRules(), careRules())
}

func pestRule(p Pest) func(Sight) (string, bool) {
	return func(s Sight) (string, bool) {
		return fmt.Sprintf("Seen at the check of %s.", s.Last.On), s.Fresh() && slices.Contains(s.Last.Pests, p)
	}
}

const cautionHands = "Wear gloves, keep material damp, wash hands after; see a doctor if unwell, and say you handle compost."

func safetyRules() []Rule {
	return []Rule{
		{Code: "rats_mice", Urgency: Now,
			Do:      "Stop outdoor drop-off, close gaps with wire mesh, bring food indoors, and tell the coordinator today.",
			Caution: "Droppings carry disease: gloves, damp them first, never sweep dry. Use no poison near the bin; follow local pest rules.",
			Source:  practice, When: pestRule(PestRodents)},
		{Code: "jumping_worms", Urgency: Now,
			Do:      "Move nothing out of this bin. Close it, label it, and ask your local extension office.",
			Caution: "Never release worms or castings outdoors from a bin under suspicion. Reporting may be required locally.",
			Source:  practice, When: pestRule(PestJumping)},
		{Code: "heat_call", Urgency: Now, Hushes: []string{"heat_open", "heat_watch"},
			Do:      "Call the keeper now. Open the bin, pull the feed layer apart, add cool damp bedding, shade it.",
			Caution: "Worms die above about 32 °C. Mind yourself in the heat too.",
			Source:  "deaths above 90 °F: Oregon Metro, worm bin guide; setting",
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("%.1f °C at the hottest spot; the call comes at %.0f °C.", s.State.HotC, s.Settings.CallC), s.State.HotC >= s.Settings.CallC
			}},
		{Code: "heat_open", Urgency: Now, Hushes: []string{"heat_watch"},
			Do:     "Open the feed layer, thin it out, add cool damp bedding. No feed.",
			Source: "thinner feed layers against heating (Edwards, from memory); setting",
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("%.1f °C at the hottest spot, %.0f °C or more.", s.State.HotC, s.Settings.OpenC), s.State.HotC >= s.Settings.OpenC
			}},
		{Code: "heat_watch", Urgency: Soon, Do: "Do not feed. Shade and air the bin, look again tomorrow.", Source: "upper end of the 15-27 °C band; setting",
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("%.1f °C and rising, above %.0f °C.", s.State.HotC, s.Settings.WatchC), s.State.HotC >= s.Settings.WatchC && s.Rising
			}},
		{Code: "near_freezing", Urgency: Now, Hushes: []string{"cold"},
			Do:      "Protect the bin: move it in, or wrap it and heap bedding over it, air holes open. No feed.",
			Caution: "No heater inside a bin unless it is made for damp places; keep cables away from bedding.",
			Source:  "deaths at freezing: Oregon Metro, worm bin guide; setting",
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("The bed is at %.1f °C.", s.State.TempC), s.State.TempFrom != TempAssumed && s.State.TempC < s.Settings.FrostC
			}},
		{Code: "quarantine", Urgency: Soon, Do: "Keep these worms apart for 2 to 4 weeks and look for jumping worms at every check. Move nothing out.",
			Caution: "Never release worms outdoors.", Source: practice,
			When: func(s Sight) (string, bool) {
				return "The bin is in quarantine.", s.Record.Bin.Status == farm.BinQuarantine
			}},
	}
}

func bedRules() []Rule {
	return []Rule{
		{Code: "wet_bottom", Urgency: Now, Hushes: []string{"sour", "too_wet"},
			Do: "Stop feeding and watering. Lift a third of the bin at a time, mixing in dry bedding, and leave the rest as refuge. " +
				"Lid open under a light at night until it smells of earth; next third after a few days.",
			Caution: "Wet beds without drainage go airless and can kill the stock. " + cautionHands, Source: practice,
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("The bottom of this undrained bin squeezes at %d of 5.", s.Last.SqueezeBottom),
					s.Fresh() && !s.Record.Bin.Drained && s.Last.SqueezeBottom >= 4
			}},
		{Code: "ammonia", Urgency: Now,
			Do:      "Stop feeding. Air the bed and mix in dry bedding well away from the worms' refuge.",
			Caution: "Ammonia kills worms at 0.5 mg/g. Air the room before you lean over the bin.",
			Source:  "Earthworm Ecology, Table 18.3; Cornell Composting: too much nitrogen, add carbon and air",
			When: func(s Sight) (string, bool) {
				return "The last check smelled ammonia.", s.Fresh() && s.Last.Smell == farm.SmellAmmonia
			}},
		{Code: "sour", Urgency: Soon,
			Do:      "Stop feeding for at least a week. Take out rotting food, fluff the top, add dry bedding, clear the holes.",
			Caution: "Against acid use crushed eggshell or calcium carbonate, never slaked or hydrated lime. " + cautionHands,
			Source:  "Oregon Metro, worm bin guide; San Mateo County on lime",
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("The last check smelled %s.", s.Last.Smell), s.Fresh() && (s.Last.Smell == farm.SmellSour || s.Last.Smell == farm.SmellRotten)
			}},
		{Code: "leaving", Urgency: Soon, Do: "Look for the cause: too wet, too dry, sour or hot. Light over the open lid holds worms in meanwhile.",
			Source: "worms leave beds that are too wet or too dry: San Mateo County, worm composting guide",
			When: func(s Sight) (string, bool) {
				return "Worms were on the lid and walls.", s.Fresh() && s.Last.Leaving
			}},
		{Code: "too_wet", Urgency: Soon, Do: "Hold back wet food, mix in dry bedding, clear the drain.",
			Source: "dry shredded paper every 2-3 weeks and drainage: City of Euless, Texas, worm bin guide",
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("A handful squeezes at %d of 5.", s.Wettest()), s.Fresh() && s.Wettest() >= 4
			}},
		{Code: "too_dry", Urgency: Soon, Do: "Sprinkle water over the bedding, a little at a time, and cover it.",
			Source: "worms need 60-90 % moisture: Earthworm Ecology, Table 18.3",
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("The top squeezes at %d of 5.", s.Last.SqueezeTop), s.Fresh() && s.Last.SqueezeTop.Valid() && s.Last.SqueezeTop <= 2
			}},
		{Code: "cold", Urgency: Routine, Do: "Feed little: worms slow down in the cold. No harvest and no split.", Source: practice,
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("The bed is at %.1f °C, below %.0f °C.", s.State.TempC, s.Settings.LittleC),
					s.State.TempFrom != TempAssumed && s.State.TempC < s.Settings.LittleC
			}},
		{Code: "fruit_flies", Urgency: Routine, Do: "Bury food deeper, cover with more bedding, set a vinegar trap beside the bin.",
			Source: "Oregon Metro, worm bin guide", When: pestRule(PestFruitFlies)},
		{Code: "mites", Urgency: Routine, Do: "Air and dry the bed a little, feed less, lift mites off with a piece of melon rind.",
			Source: practice, When: pestRule(PestMites)},
		{Code: "ants", Urgency: Routine, Do: "Stand the legs in water and dampen the bed.", Source: practice, When: pestRule(PestAnts)},
	}
}

func foodRules() []Rule {
	return []Rule{
		{Code: "uneaten", Urgency: Soon, Do: "Give no more until the last feed is mostly gone. Spread clumps thinner and cover them.",
			Source: "stop feeding when food is left: extension guides",
			When: func(s Sight) (string, bool) {
				b := s.State.Backlog
				slow := b.TotalG > 500 && (!b.Clears || b.DaysToClear > 2*s.Settings.FeedDays)
				if !b.Clears {
					return fmt.Sprintf("About %.1f kg lie uneaten, for more than %d days.", b.TotalG/1000, clearLimit), slow
				}
				return fmt.Sprintf("About %.1f kg lie uneaten, some %d days' worth.", b.TotalG/1000, b.DaysToClear), slow
			}},
		{Code: "full", Urgency: Soon, Do: "Harvest a finished section or start a new one; there is no room to cover a feeding.", Source: practice,
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("%.0f mm are free; a cover alone takes %.0f mm.", s.State.FreeMM, s.Settings.CoverMM),
					s.State.FillMeasured && s.State.FreeMM < s.Settings.CoverMM
			}},
		{Code: "needs_bedding", Urgency: Soon, Do: "Lay damp bedding over the feed, at least 5 cm deep.", Source: practice,
			When: func(s Sight) (string, bool) {
				laid := s.beddingSince(14)
				want := CoverL(s.State.FedSurfaceM2, s.Settings.CoverMM)
				return fmt.Sprintf("%.0f L of bedding in two weeks; one cover takes %.0f L.", laid, want),
					s.FedSince <= 14 && s.Record.Bin.Status == farm.BinInUse && laid < want/2
			}},
		{Code: "hungry", Urgency: Routine, Do: "Feed this bin next.", Source: practice,
			When: func(s Sight) (string, bool) {
				day := s.State.Appetite.PerDayG.Mean
				return fmt.Sprintf("It could eat %.2f kg a day and little is left.", day/1000),
					day > 50 && s.State.Backlog.TotalG < day && s.FedSince > s.Settings.FeedDays
			}},
	}
}

// beddingSince is the bedding in litres laid within so many days.
func (s Sight) beddingSince(days int) float64 {
	var litres float64
	for _, b := range s.Record.Bedding {
		if int(s.Record.AsOf-b.On) <= days {
			litres += float64(b.Grams) / Wetted(s.Record.material(b.Material), b.MoisturePct).DensityGPerL.Value
		}
	}
	return litres
}

func careRules() []Rule {
	return []Rule{
		{Code: "crowded", Urgency: Routine, Do: "Split the bin: move part of the worms with their bedding into a bin made ready for them.",
			Caution: "Keep the lineage on record and watch the new bin for pests.",
			Source:  "best density 1.60 kg/m² (Ndegwa et al. 2000) is advice, not a ceiling",
			When: func(s Sight) (string, bool) {
				sp, ok := SplitAdvice(*s.State, s.Settings)
				return fmt.Sprintf("About %.1f kg/m² of worms; moving %.1f kg leaves %.1f kg.", sp.DensityKgPerM2, sp.MoveG/1000, sp.LeaveG/1000), ok
			}},
		{Code: "thin_stock", Urgency: Routine, Do: "Feed lightly and let the stock grow, or bring worms from a crowded bin.",
			Source: practice,
			When: func(s Sight) (string, bool) {
				return fmt.Sprintf("Only about %.2f kg/m² of worms.", s.State.DensityKgPerM2.Mean),
					s.State.WormsRecorded && s.State.DensityKgPerM2.Mean < s.Settings.ThinKgPerM2
			}},
		{Code: "check_overdue", Urgency: Routine, Do: "Make a quick check: smell, squeeze at top and bottom, food left, temperature.", Source: practice,
			When: func(s Sight) (string, bool) {
				if !s.Checked {
					return "No check is on record.", true
				}
				return fmt.Sprintf("Last checked %d days ago.", s.Since), s.Since > s.Settings.CheckEveryDays
			}},
		{Code: "turn_overdue", Urgency: Routine, Do: "Turn each section gently, within the section only, and leave a refuge.", Source: practice,
			When: func(s Sight) (string, bool) {
				if s.Settings.TurnEveryDays <= 0 || s.Record.Bin.Drained || s.Record.Bin.Method == farm.FlowThrough {
					return "", false
				}
				since := s.turnedAgo()
				return fmt.Sprintf("Undrained and not turned for %d days.", since), since > s.Settings.TurnEveryDays
			}},
		{Code: "harvest_ready", Urgency: Routine, Do: "Lure the worms out and harvest the finished section. Stop watering 2 to 3 days before.",
			Caution: "Castings are not heat-treated: damp them, gloves on, wash hands. " + cautionSeeds,
			Source:  "vermicompost training guide, 75-90 days; setting",
			When: func(s Sight) (string, bool) {
				for i, r := range s.State.Ready {
					sec := s.Record.Sections[i]
					if r.Ready && (sec.Stage == farm.Maturing || sec.Stage == farm.Finished) && s.State.TempC >= s.Settings.LittleC {
						return fmt.Sprintf("Section %s was last fed on %s and has had its %.0f working days.", sec.ID, r.LastFed, r.NeedDays), true
					}
				}
				return "", false
			}},
	}
}

// turnedAgo is days since the last turning, or since set-up.
func (s Sight) turnedAgo() int {
	last := s.Record.firstDay()
	for _, c := range s.Record.Care {
		if c.Kind == Turning {
			last = max(last, c.On)
		}
	}
	return int(s.Record.AsOf - last)
}
