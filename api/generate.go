package api

//go:generate go tool oapi-codegen -config wire.yaml openapi.yaml
