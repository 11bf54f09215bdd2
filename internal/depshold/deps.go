// Package depshold keeps requirements in go.mod while the rooms that need them are being built.
package depshold

import (
	_ "github.com/alecthomas/kong"
	_ "github.com/getkin/kin-openapi/openapi3filter"
	_ "github.com/getkin/kin-openapi/routers/gorillamux"
	_ "github.com/getkin/kin-openapi/routers/legacy"
	_ "github.com/golang-jwt/jwt/v5"
	_ "github.com/golang-migrate/migrate/v4"
	_ "github.com/golang-migrate/migrate/v4/database/pgx/v5"
	_ "github.com/golang-migrate/migrate/v4/source/iofs"
	_ "github.com/google/uuid"
	_ "github.com/jackc/pgx/v5/pgxpool"
	_ "github.com/labstack/echo/v4"
	_ "github.com/labstack/echo/v4/middleware"
	_ "github.com/oapi-codegen/runtime"
	_ "github.com/oapi-codegen/runtime/types"
	_ "github.com/testcontainers/testcontainers-go"
	_ "github.com/testcontainers/testcontainers-go/wait"
	_ "go.uber.org/goleak"
	_ "golang.org/x/crypto/argon2"
	_ "golang.org/x/sync/errgroup"
	_ "golang.org/x/sync/semaphore"
	_ "gonum.org/v1/gonum/optimize/convex/lp"
	_ "gopkg.in/yaml.v3"
	_ "pgregory.net/rapid"
)
