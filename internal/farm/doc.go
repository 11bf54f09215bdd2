// Package farm is the domain: gardens, members, bins, sections, lots,
// feedings, transfers and harvests; what is valid, who may do what, and the
// error codes the whole service speaks.
//
// It must not know SQL, HTTP, a clock or where a rule's caller sits. Start
// reading at kinds.go for the words of the trade, role.go for permissions and
// errors.go for refusals.
package farm
