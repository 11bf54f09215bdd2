package service

import (
	"strings"

	"midden/internal/farm"
)

// everyday are words that people write in a log, and the material they mean.
// A garden adds its own when it imports. Fruit and vegetables also stand for
// their peel and trimmings.
var everyday = map[string]string{
	"kitchen scraps": "mixed_kitchen_scraps", "food scraps": "mixed_kitchen_scraps", "food waste": "mixed_kitchen_scraps",
	"scraps": "mixed_kitchen_scraps", "mixed": "mixed_kitchen_scraps", "mixed scraps": "mixed_kitchen_scraps",
	"vegetables": "vegetable_trimmings", "veg": "vegetable_trimmings", "veggies": "vegetable_trimmings", "vegetable peel": "vegetable_trimmings",
	"lettuce": "leafy_greens", "salad": "leafy_greens", "spinach": "leafy_greens", "greens": "leafy_greens", "carrot tops": "leafy_greens",
	"cabbage": "brassica_leaves", "broccoli": "brassica_leaves", "kale": "brassica_leaves", "cauliflower": "brassica_leaves",
	"carrots": "root_vegetable_peel", "carrot peel": "root_vegetable_peel", "beets": "root_vegetable_peel", "turnips": "root_vegetable_peel",
	"potatoes": "potato_peel", "potato peelings": "potato_peel", "peas": "pea_pods", "bean pods": "pea_pods",
	"herbs": "herb_stems", "mushrooms": "mushroom_trimmings", "tomato": "tomatoes",
	"cucumber": "cucumber_courgette", "cucumbers": "cucumber_courgette", "courgettes": "cucumber_courgette", "zucchini": "cucumber_courgette",
	"pumpkins": "pumpkin", "squash": "pumpkin", "melon": "melon_rind", "watermelon": "melon_rind", "watermelon rind": "melon_rind",
	"apple": "apples", "apple cores": "apples", "pears": "pears_stone_fruit", "plums": "pears_stone_fruit", "peaches": "pears_stone_fruit",
	"bananas": "banana_peel", "banana peels": "banana_peel", "berries": "soft_fruit", "grapes": "soft_fruit", "pomace": "fruit_pomace",
	"avocado": "avocado_skin", "avocados": "avocado_skin", "oranges": "citrus_peel", "orange peel": "citrus_peel", "lemons": "citrus_peel",
	"citrus": "citrus_peel", "onions": "onion_family", "onion": "onion_family", "leeks": "onion_family", "garlic": "onion_family",
	"coffee": "coffee_grounds", "tea": "tea_leaves", "tea bags": "tea_leaves", "rice": "cooked_grain", "pasta": "cooked_grain",
	"eggshells": "eggshell", "egg shells": "eggshell", "flowers": "cut_flowers", "weeds": "garden_weeds", "grass clippings": "grass",
}

// wordBook finds a scrap material by what somebody wrote: its key, its name, a
// word of the garden's own, or an everyday word. What stands after a comma
// tells how it was cut and is left out at a second look.
type wordBook map[string]farm.KnownMaterial

func newWordBook(list []farm.KnownMaterial, own map[string]string) (wordBook, error) {
	book, byKey := wordBook{}, map[string]farm.KnownMaterial{}
	for _, m := range list {
		if m.Use == farm.ScrapUse {
			byKey[m.Key] = m
		}
	}
	for word, key := range everyday {
		if m, ok := byKey[key]; ok {
			book[word] = m
		}
	}
	for key, m := range byKey {
		book[farm.Fold(m.Name)], book[key] = m, m
	}
	var f farm.Faults
	for word, key := range own {
		m, ok := byKey[key]
		if !ok {
			f.Add("material.not_found", "/material", "material: %q, for %q, is no scrap of the catalogue nor of the garden's own", key, word)
		}
		book[farm.Fold(word)] = m
	}
	return book, f.Err()
}

func (b wordBook) find(written string) (farm.KnownMaterial, bool) {
	word := farm.Fold(written)
	if m, ok := b[word]; ok {
		return m, true
	}
	before, _, cut := strings.Cut(word, ",")
	m, ok := b[strings.TrimSpace(before)]
	return m, ok && cut
}
