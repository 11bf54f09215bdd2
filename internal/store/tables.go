package store

// GlobalTables lists every table that belongs to no garden, with the reason.
// The schema tests hold each table not named here to the rules of tenancy.
var GlobalTables = map[string]string{
	"midden.accounts":  "a person signs in before a garden is chosen",
	"midden.sessions":  "a person signs in before a garden is chosen",
	"midden.once_keys": "making a garden is answered exactly once too; rows are held to their account by a policy",
}
