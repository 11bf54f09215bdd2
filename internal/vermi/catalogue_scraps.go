package vermi

import "midden/internal/farm"

// scrap makes a catalogue row for food: nitrogen, C:N, moisture, density.
func scrap(key, name string, g farm.Group, n, cn, m, d farm.Figure, shelf int, freezable bool, caution string) farm.Material {
	return farm.Material{Key: key, Name: name, Use: farm.ScrapUse, Group: g, NitrogenPct: n, CarbonToN: cn,
		MoisturePct: m, DensityGPerL: d, ShelfLifeDays: shelf, Freezable: freezable, Caution: caution}
}

func scraps() []farm.Material {
	food := read(455, 235, 898, srcFoodVol)
	vegN := recalled(2.7, 2.5, 4, srcNRAES)
	vegCN := read(19, 11, 20, srcNRAESCN)
	leafN := recalled(3.3, 2.5, 4, srcNRAES)
	leafCN := read(12, 11, 13, srcNRAESCN)
	fruitN := recalled(1.4, 0.9, 2.6, srcNRAES)
	fruitCN := recalled(40, 20, 49, srcNRAES)
	likeN := recalled(2.7, 1.5, 4, srcLike)
	likeCN := recalled(19, 11, 30, srcLike)
	likeFruitN := recalled(1.4, 0.9, 2.6, srcFruit)
	likeFruitCN := recalled(40, 20, 49, srcFruit)
	usda := func(v, lo, hi float64) farm.Figure { return recalled(v, lo, hi, srcUSDA) }

	return []farm.Material{
		scrap("mixed_kitchen_scraps", "Mixed kitchen scraps", farm.Plain,
			recalled(2.4, 1.9, 2.9, srcNRAES), read(15, 14, 16, srcNRAESCN), read(74, 69, 90, srcZhang), food, 5, true,
			"Sort before feeding: no meat, fish, dairy, oil or pet waste."),
		scrap("vegetable_trimmings", "Vegetable trimmings", farm.Plain, vegN, vegCN,
			recalled(87, 80, 92, srcNRAES), food, 5, true, ""),
		scrap("leafy_greens", "Leafy greens and lettuce", farm.Plain, leafN, leafCN,
			usda(93, 90, 96), habit(200, 100, 400), 3, true, "Mats and turns slimy in a thick layer."),
		scrap("brassica_leaves", "Cabbage and broccoli leaves", farm.Plain, leafN, leafCN,
			usda(90, 88, 93), habit(250, 150, 450), 4, true, "Smells strongly as it rots: bury it and go easy indoors."),
		scrap("root_vegetable_peel", "Carrot, beet and turnip peel", farm.Plain, likeN, likeCN,
			usda(88, 85, 91), food, 7, true, ""),
		scrap("potato_peel", "Potato peel", farm.Plain, recalled(1.7, 1.2, 2.2, srcUSDA), habit(25, 18, 32),
			usda(82, 78, 85), food, 6, true, "Eyes may sprout in the bed; peel of green potatoes in small amounts."),
		scrap("pea_pods", "Pea and bean pods", farm.Plain, likeN, likeCN, usda(88, 80, 91), habit(250, 150, 450), 5, true, ""),
		scrap("herb_stems", "Herb stems", farm.Plain, likeN, likeCN, usda(85, 78, 90), habit(150, 80, 300), 6, true, ""),
		scrap("mushroom_trimmings", "Mushroom trimmings", farm.Plain, usda(4.5, 3.5, 6), habit(10, 8, 13),
			usda(92, 90, 93), habit(250, 150, 400), 3, true, "Cultivated mushrooms only."),
		scrap("tomatoes", "Tomatoes", farm.VeryWet, likeN, likeCN, usda(94, 93, 95), habit(600, 450, 900), 4, true, cautionSeeds),
		scrap("cucumber_courgette", "Cucumber and courgette", farm.VeryWet, likeN, likeCN, usda(95, 94, 96), habit(550, 400, 900), 4, true, ""),
		scrap("pumpkin", "Pumpkin and squash", farm.VeryWet, likeN, likeCN, usda(91, 88, 94), habit(500, 350, 800), 5, true,
			"Cut small; take off paint and candle wax. "+cautionSeeds),
		scrap("melon_rind", "Melon rind", farm.VeryWet, likeFruitN, likeFruitCN, usda(92, 90, 94), habit(500, 350, 800), 3, true, cautionSeeds),
		scrap("apples", "Apples and cores", farm.Fruit, fruitN, fruitCN, recalled(84, 80, 88, srcNRAES), food, 7, true,
			"Draws fruit flies: bury and cover well."),
		scrap("pears_stone_fruit", "Pears, plums and peaches", farm.Fruit, fruitN, fruitCN, usda(85, 80, 89), food, 4, true,
			"Draws fruit flies and wasps: bury and cover well. Stones do not break down."),
		scrap("banana_peel", "Banana peel", farm.Fruit, likeFruitN, habit(30, 20, 40), usda(88, 84, 91), habit(350, 200, 600), 4, true, "Draws fruit flies: bury and cover well."),
		scrap("soft_fruit", "Berries and grapes", farm.Fruit, likeFruitN, likeFruitCN, usda(85, 80, 91), habit(550, 400, 800), 2, true, "Draws fruit flies: bury and cover well."),
		scrap("fruit_pomace", "Fruit pomace", farm.Fruit, recalled(1.1, 0.9, 1.5, srcNRAES), recalled(48, 35, 55, srcNRAES),
			recalled(88, 75, 90, srcNRAES), recalled(932, 800, 960, srcNRAES), 2, true, "Ferments within a day or two: feed thin or freeze."),
		scrap("avocado_skin", "Avocado skin", farm.Fruit, likeFruitN, likeFruitCN, usda(73, 65, 80), habit(300, 200, 450), 7, true, "Skin and stone break down slowly."),
		scrap("citrus_peel", "Citrus peel", farm.Citrus, likeFruitN, likeFruitCN, usda(82, 75, 87), habit(350, 200, 600), 7, true, cautionSour),
		scrap("pineapple", "Pineapple skin and tops", farm.Citrus, likeFruitN, likeFruitCN, usda(85, 80, 88), habit(350, 200, 600), 4, true, cautionSour),
		scrap("onion_family", "Onions, leeks and garlic", farm.OnionFamily, likeN, habit(17, 12, 25), usda(89, 85, 91), habit(350, 200, 600), 10, true,
			"Go easy: strong oils and smell; worms leave it until it has rotted."),
		scrap("coffee_grounds", "Coffee grounds", farm.Coffee, habit(2.0, 1.8, 2.4), read(20, 12, 24, srcSolomon),
			habit(65, 55, 80), habit(450, 350, 600), 10, true,
			"At most about a quarter of the mix (Gonzalez-Moreno et al. 2020); mix in, never a thick layer; take off plastic pods."),
		scrap("tea_leaves", "Tea leaves", farm.Coffee, habit(3.5, 2.5, 4.5), habit(13, 10, 18), habit(80, 70, 88), habit(400, 300, 600), 7, true,
			"Take off staples and plastic tea bags."),
		scrap("bread", "Bread", farm.BreadGrain, usda(2.2, 1.8, 2.6), habit(20, 16, 25), usda(36, 30, 40), habit(200, 120, 300), 5, true,
			"Heats, moulds and draws rats and mice: small amounts, buried. Little salt."),
		scrap("cooked_grain", "Plain cooked rice and pasta", farm.BreadGrain, usda(1.4, 1.1, 2.2), habit(32, 22, 40), usda(66, 60, 72), habit(600, 500, 800), 2, true,
			"Sours fast and draws rats and mice: small amounts, buried, without salt, oil or sauce."),
		scrap("spent_grain", "Brewing grain", farm.BreadGrain, recalled(3.5, 2.8, 4.2, srcNRAES), habit(13, 10, 16), habit(78, 70, 82), habit(500, 400, 700), 2, true,
			"Heats and sours within a day: thin layers only."),
		scrap("corn_cobs", "Maize husks and cobs", farm.Plain, recalled(0.6, 0.4, 0.8, srcNRAES), read(98, 56, 123, srcBedding),
			recalled(15, 9, 18, srcNRAES), recalled(lbYd3(557), 150, 350, srcNRAES), 14, false, "Cobs break down slowly; chop them."),
		scrap("salty_leftovers", "Salted or oily leftovers", farm.SaltyOily, recalled(2.4, 1.9, 2.9, srcNRAES), read(15, 14, 16, srcNRAESCN),
			read(72, 62, 85, srcZhang), food, 1, true,
			"Best refused. Salt above 0.2 % harms growth and above 0.5 % kills; oil, meat and dairy smell and draw vermin."),
		scrap("seaweed", "Seaweed", farm.SaltyOily, read(1.9, 1.5, 2.5, srcCornell), read(17, 12, 25, srcCornell), read(53, 50, 88, srcCornell),
			habit(300, 150, 500), 3, false, "Rinse the salt off first; gather only where it is allowed."),
		scrap("eggshell", "Crushed eggshell", farm.Plain, habit(0.6, 0.3, 1), habit(20, 10, 40), habit(2, 1, 15), habit(500, 250, 800), 90, false,
			"Dry and crush fine: grit and lime. Counted as mineral; its C:N says little."),
		scrap("cut_flowers", "Cut flowers", farm.Plain, habit(1.8, 1.2, 2.5), habit(25, 15, 35), habit(80, 70, 90), habit(120, 60, 250), 5, false,
			"Bought flowers may carry insecticide, and some are poisonous: small amounts, gloves on."),
		scrap("garden_weeds", "Soft weeds without seeds", farm.Plain, likeN, likeCN, habit(80, 70, 88), habit(150, 80, 300), 3, false,
			"No runners, no seed heads. "+cautionSeeds),
		scrap("grass", "Grass clippings", farm.Plain, recalled(3.4, 2, 6, srcNRAES), read(17, 9, 25, srcNRAESCN), read(77, 70, 85, srcCornell),
			recalled(lbYd3(350), lbYd3(300), lbYd3(800), srcNRAES), 1, false, "Heats and mats: a thin layer only. "+cautionHerbicide),
		scrap("horse_manure", "Horse manure", farm.Plain, recalled(1.6, 1.4, 2.3, srcNRAES), read(30, 22, 56, srcBedding), recalled(72, 59, 79, srcNRAES),
			recalled(lbYd3(1379), lbYd3(1215), lbYd3(1620), srcNRAES), 30, false, cautionManure),
		scrap("cattle_manure", "Cattle manure", farm.Plain, read(2.4, 1.5, 4.2, srcCornell), recalled(19, 11, 30, srcNRAES), read(81, 67, 87, srcCornell),
			recalled(lbYd3(1458), lbYd3(1323), lbYd3(1674), srcNRAES), 30, false, cautionManure),
	}
}
