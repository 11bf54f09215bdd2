package ledger

// Kinds of entry: what happened. A reversal has the kind of the entry that it
// undoes. Where spoiled scraps and uneaten food went is part of the kind, because
// roll-ups are kept by kind and landfill alone reduces what was diverted.
const (
	KindIntake            = "intake"
	KindVerdict           = "verdict" // rejected, or sorted out
	KindMove              = "move"    // a part split off
	KindFeeding           = "feeding"
	KindRemovalLandfill   = "removal_landfill" // uneaten food taken out of a bin
	KindRemovalElsewhere  = "removal_elsewhere"
	KindSpoilageLandfill  = "spoilage_landfill"
	KindSpoilageElsewhere = "spoilage_elsewhere"
	KindOverflow          = "overflow"
	KindReweighing        = "reweighing"
	KindBeddingReceipt    = "bedding_receipt"
	KindBeddingBatch      = "bedding_batch"
	KindBeddingLaid       = "bedding_laid"
	KindWormTransfer      = "worm_transfer"
	KindHarvest           = "harvest"
	KindCastingsStep      = "castings_step"
	KindGiveaway          = "giveaway"
)
