// Package api is generated from the contract: wire types, the server
// interface and a Go client. Never edit it, and never import internal/ here;
// change openapi/openapi.yaml and run `make generate`.
package api

//go:generate go tool oapi-codegen -config config.yaml ../openapi/openapi.yaml
