package httpapi

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"
	"strings"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"midden/internal/auth"
	"midden/internal/farm"
	"midden/internal/obs"
)

const (
	keyRequestID = "midden.request_id"
	keyAccess    = "midden.access"
)

// identify gives every request an id of our own; a client's is never trusted.
func (s *Server) identify(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		id := uuid.Must(uuid.NewV7()).String()
		c.Set(keyRequestID, id)
		c.SetRequest(c.Request().WithContext(obs.WithRequestID(c.Request().Context(), id)))
		h := c.Response().Header()
		h.Set("X-Request-Id", id)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cache-Control", "no-store")
		return next(c)
	}
}

func requestID(c echo.Context) string {
	id, _ := c.Get(keyRequestID).(string)
	return id
}

// observe logs one line a request and turns a panic into a fault of ours.
func (s *Server) observe(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) (err error) {
		start := s.now()
		defer func() {
			if r := recover(); r != nil {
				if r == http.ErrAbortHandler {
					panic(r)
				}
				err = fmt.Errorf("panic: %v\n%s", r, debug.Stack())
			}
			if err != nil {
				c.Error(err)
				err = nil
			}
			s.log.InfoContext(c.Request().Context(), "request",
				slog.String("request_id", requestID(c)), slog.String("method", c.Request().Method),
				slog.String("route", c.Path()), slog.Int("status", c.Response().Status),
				slog.Duration("took", s.now().Sub(start)), slog.Int64("bytes", c.Response().Size))
		}()
		return next(c)
	}
}

// guard bounds a request, finds out who asks, and holds it against the
// contract, in that order: a stranger learns nothing from validation.
func (s *Server) guard(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		op := s.contract.operation(c)
		if op == nil {
			return next(c) // echo's own not-found and method-not-allowed
		}
		req := c.Request()
		ctx, cancel := context.WithTimeout(req.Context(), s.timeout)
		defer cancel()
		req = req.WithContext(ctx)
		req.Body = http.MaxBytesReader(c.Response(), req.Body, s.maxBody)
		c.SetRequest(req)
		if !op.public {
			access, err := s.authenticate(req)
			if err != nil {
				return err
			}
			c.Set(keyAccess, access)
		}
		if err := s.contract.validate(c, op); err != nil {
			return err
		}
		err := next(c)
		if errors.Is(err, context.DeadlineExceeded) && ctx.Err() != nil {
			return busy("the request took too long")
		}
		return err
	}
}

func (s *Server) authenticate(req *http.Request) (auth.Access, error) {
	scheme, token, ok := strings.Cut(req.Header.Get("Authorization"), " ")
	if !ok || !strings.EqualFold(scheme, "Bearer") || token == "" {
		return auth.Access{}, farm.Refuse("token.missing", "Authorization", "sign in and send the access token as a bearer token")
	}
	return s.verifier.Verify(s.now(), token)
}

func busy(detail string) error {
	return farm.Refuse("server.busy", "", "%s; try again in a moment", detail)
}
