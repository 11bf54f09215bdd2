// Package api is generated from the contract: wire types and the server
// interface; the Go client is in client/. Never edit it, and never import
// internal/ here; change openapi/openapi.yaml and run `make generate`.
package api

//go:generate go tool oapi-codegen -config config.yaml ../openapi/openapi.yaml
