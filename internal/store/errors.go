package store

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5/pgconn"

	"midden/internal/farm"
)

// refusals maps a constraint's name to what it means to people. Each
// aggregate's file adds its own with refuseOn.
var refusals = map[string]farm.Error{}

func refuseOn(constraint string, code farm.Code, field, message string) struct{} {
	if _, twice := refusals[constraint]; twice {
		panic("store: constraint mapped twice: " + constraint)
	}
	refusals[constraint] = farm.Error{Code: code, Field: field, Message: message}
	return struct{}{}
}

// translate turns a database error into a refusal by the constraint's name;
// anything else is wrapped and stays a fault of ours.
func translate(err error) error {
	if err == nil || farm.AsError(err) != nil {
		return err
	}
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		if r, ok := refusals[pg.ConstraintName]; ok {
			return &r
		}
		return fmt.Errorf("store: %w", err)
	}
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return fmt.Errorf("store: %w", err)
}
