// Package client is a Go client of the API, generated from the contract. It
// stands alone: it has its own wire types, so that a program that uses it
// needs nothing of the server. Never edit it.
package client

//go:generate go tool oapi-codegen -config config.yaml ../../openapi/openapi.yaml
