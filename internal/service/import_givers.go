package service

import (
	"strings"

	"midden/internal/farm"
)

// givers finds households by what people write.
type givers map[string][]farm.Household

func giversOf(list []farm.Household) givers {
	g := givers{}
	for _, h := range list {
		g.add(h)
	}
	return g
}

func (g givers) add(h farm.Household) {
	if h.Name != "" {
		g["name "+farm.Fold(h.Name)] = append(g["name "+farm.Fold(h.Name)], h)
	}
	if plot, ok := plotOf(h.Plot); ok {
		h.Plot = plot
	}
	if h.Plot != "" {
		g["plot "+farm.Fold(h.Plot)] = append(g["plot "+farm.Fold(h.Plot)], h)
	}
}

// find looks for a name first, then for a plot: "12" and "plot 12" are one.
func (g givers) find(who string) []farm.Household {
	if found := g["name "+farm.Fold(who)]; len(found) > 0 {
		return found
	}
	if plot, ok := plotOf(who); ok {
		who = plot
	}
	return g["plot "+farm.Fold(who)]
}

// plotOf takes the word plot off.
func plotOf(who string) (string, bool) {
	words := strings.Fields(who)
	if len(words) == 2 && strings.EqualFold(words[0], "plot") && len(words[1]) <= 40 {
		return words[1], true
	}
	return "", false
}
