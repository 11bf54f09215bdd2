package store

import "midden/internal/farm"

// LotsOnHand asks for every lot with something left that was not turned away,
// in the order of their ids: for planning.
func (b *Batch) LotsOnHand() *Rows[LotOnHand] {
	return fetchAll(b, lotRow.lot, selectLot+` AND l.status <> 'rejected'
		AND l.lot_id = ANY (ARRAY(SELECT split_part(s.account, ':', 2)::uuid FROM midden.stock_heads s
		     WHERE s.garden_id = midden.garden() AND s.account >= 'lot:' AND s.account < 'lot;' AND s.held))
		ORDER BY l.lot_id`)
}

// AllSites asks for every site, used or not, by name: for planning.
func (b *Batch) AllSites() *Rows[farm.Site] {
	return fetchAll(b, siteRow.site, selectSite+` WHERE garden_id = midden.garden() ORDER BY name, site_id`)
}

// Carers asks for every active member whose role may care for bins.
func (b *Batch) Carers() *Rows[farm.Member] {
	return fetchAll(b, memberRow.member, selectMember+`
		WHERE m.garden_id = midden.garden() AND m.active AND m.role IN ('coordinator', 'keeper') ORDER BY m.member_id`)
}
