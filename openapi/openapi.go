// Package openapi embeds the contract: the binary serves exactly the file it
// was built from. It imports nothing of the project.
package openapi

import _ "embed"

// YAML is the contract, byte for byte.
//
//go:embed openapi.yaml
var YAML []byte
