package auth

import "strings"

// words are what generated passwords are made of: 512 things of gardens,
// kitchens and the weather, short, and unlike each other when read aloud.
var words = strings.Fields(`
acorn alder almond alpine amber anchor anvil apple apron arbor arch arrow ash aspen aster attic autumn badge
badger bagel baker ballad balm bamboo banjo barge bark barley barn barrel barrow basalt basil basin basket
baton beacon bead beaker beam bean beaver beech beetle bell belt bench berry birch biscuit blanket blossom
bobbin bog bolt bonnet borage border bottle bough boulder bower bowl box bracken bramble branch bread breeze
brick bridge brook broom broth brush bubble bucket buckle bud bugle bulb bunting burrow bush butter button
cabbage cabin cactus camel candle canoe canvas caper carrot cart castle cedar celery cellar chalk chard cheese
cherry chest chestnut chives cider cinder circle citron clay cliff cloak clock cloud clove clover coal cobble
cobweb cocoa cocoon comb comet compass cone copper coral cork cotton cowslip crab cradle crane crate cress
cricket crimson crocus crow crumb crust cumin cup curlew curtain cushion cypress dahlia daisy dale damson
dapple dawn deck dell denim dill dingle dock dome donkey dove downy dragon drawer drift duck dune dusk eagle
easel echo egg elbow elder elm ember endive ermine fable falcon farrow feather fennel fern ferry fiddle field
fig finch flag flannel flask flax flint flock floret flour flute fog forest fork fountain fox foxglove frog
frost fruit furrow gable gadget galley gander garlic garnet gate gazelle ginger glade glass glen glider glove
goat goose gorse gourd grain granite grape grass gravel green grotto grove gull hamlet hammer hammock harbor
harp harvest haven hawk hay hazel heath heather hedge heron hickory hill hinge hive hollow holly honey hops
hornet horse humus icicle indigo inlet iris iron island ivory ivy jackdaw jacket jam jasmine jetty jigsaw
juice juniper kale kayak kelp kernel kettle kiln kite kitten knapsack knoll knot ladder ladle lagoon lamp
lantern larch lark lather lattice laurel lava leaf leek lemon lentil lichen lilac lily lime linden linen
lizard loaf loam locket locust loft lotus lupin lynx magpie mallow mango mantle maple marble market marrow
marsh martin meadow medlar melon millet mint mirror mitten moon mosaic moss moth mulberry mulch mushroom
mustard myrtle napkin nectar needle nest nettle newt noodle nook nutmeg oak oasis ocean olive onion opal
orchard orchid osprey otter oven oxlip paddle pail pansy paper parcel parsley parsnip path peach pebble pecan
pepper petal pewter pickle pigeon pillow pine pippin pitcher plank plate plough plover plum pocket pollen pond
pony poplar poppy porch potato pottery prairie primrose puddle puffin pulley pumpkin puzzle quail quarry
quartz quill quilt quince rabbit radish rain raisin rake ramble raven ribbon ridge river robin rocket root
rose rosemary rowan ruby rudder saddle saffron sage salt sandal sapling satin saucer scarf seed shale shed
shell shingle shoal shore shovel shrew shrub sickle sieve silver sleet slope snail snow soap soil sorrel spade
spark sparrow spinach spindle spire sponge spoon spring spruce squash stable stalk starling stone stork straw
stream sunset swift tansy tarragon tassel teapot thatch thicket thimble thistle thorn thrush thyme timber
tomato trellis trowel trunk tulip tunnel turnip turtle twine umber urn vale valley vase velvet vetch vine
violet walnut
`)
