package httpapi

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
)

const problemType = "application/problem+json"

// statusOf is the one table from code to HTTP status. A code's noun.reason
// decides: exact codes first, then the reason alone, then 422 (a rule).
func statusOf(code farm.Code) int {
	if s, ok := exactStatus[code]; ok {
		return s
	}
	_, reason, _ := strings.Cut(string(code), ".")
	if s, ok := reasonStatus[reason]; ok {
		return s
	}
	return http.StatusUnprocessableEntity
}

var exactStatus = map[farm.Code]int{
	"request.malformed":  http.StatusBadRequest,
	"request.too_large":  http.StatusRequestEntityTooLarge,
	"request.media_type": http.StatusUnsupportedMediaType,
	"request.key_reused": http.StatusUnprocessableEntity,
	"request.in_flight":  http.StatusConflict,
	"cursor.invalid":     http.StatusBadRequest,
	"role.forbidden":     http.StatusForbidden,
	"bin.not_yours":      http.StatusForbidden,
	"entry.is_reversal":  http.StatusConflict,
	"version.stale":      http.StatusPreconditionFailed,
	"version.missing":    http.StatusPreconditionRequired,
	"server.busy":        http.StatusServiceUnavailable,
	"method.not_allowed": http.StatusMethodNotAllowed,
	"token.missing":      http.StatusUnauthorized,
	"token.invalid":      http.StatusUnauthorized,
	"token.expired":      http.StatusUnauthorized,
	"session.ended":      http.StatusUnauthorized,
	"refresh.invalid":    http.StatusUnauthorized,
	"refresh.expired":    http.StatusUnauthorized,
	"refresh.revoked":    http.StatusUnauthorized,
	"refresh.reused":     http.StatusUnauthorized,
	"login.refused":      http.StatusUnauthorized,
	"id.taken":           http.StatusConflict,
	// Books that do not come out, and kept bytes that changed, are faults of ours.
	"report.unbalanced": http.StatusInternalServerError,
	"report.negative":   http.StatusInternalServerError,
	"report.altered":    http.StatusInternalServerError,
	"report.day":        http.StatusInternalServerError,
	"report.flow":       http.StatusInternalServerError,
	"server.fault":      http.StatusInternalServerError,
}

// reasonStatus sorts the rest by their reason: what is not there, what the
// present state or stock forbids.
var reasonStatus = map[string]int{
	"not_found":  http.StatusNotFound,
	"empty":      http.StatusConflict,
	"none":       http.StatusConflict,
	"short":      http.StatusConflict,
	"state":      http.StatusConflict,
	"closed":     http.StatusConflict,
	"full":       http.StatusConflict,
	"stale":      http.StatusConflict,
	"taken":      http.StatusConflict,
	"name_taken": http.StatusConflict,
	"stage":      http.StatusConflict,
	"quarantine": http.StatusConflict,
	"in_use":     http.StatusConflict,
	"inactive":   http.StatusConflict,
	"exists":     http.StatusConflict,
	"reversed":   http.StatusConflict,
	"rejected":   http.StatusConflict,
	"judged":     http.StatusConflict,

	"email_taken":      http.StatusConflict,
	"erased":           http.StatusConflict,
	"last_coordinator": http.StatusConflict,
}

var titles = map[int]string{
	400: "The request is not well formed",
	401: "Sign in first",
	403: "Your role may not do this",
	404: "Not here, or not yours",
	405: "This method is not for this place",
	409: "It does not fit the present state",
	412: "It has changed since you read it",
	413: "Too large",
	415: "Wrong media type",
	422: "A rule refuses it",
	428: "Say which version you read",
	500: "A fault of ours",
	503: "Not able to serve just now",
}

// problemOf makes the document for an error. Unknown errors show a fixed text.
func problemOf(err error, requestID string) api.Problem {
	e := farm.AsError(err)
	if e == nil {
		e = farmErrorOfEcho(err)
	}
	if e == nil {
		e = farm.Refuse("server.fault", "", "Something went wrong on our side. Request %s is in the log.", requestID)
	}
	return problem(e, statusOf(e.Code), requestID)
}

func problem(e *farm.Error, status int, requestID string) api.Problem {
	faults := make([]api.ProblemFault, 0, 1+len(e.More))
	for _, one := range append([]farm.Error{*e}, e.More...) {
		if one.Field != "" {
			faults = append(faults, api.ProblemFault{Pointer: one.Field, Code: string(one.Code), Detail: one.Message})
		}
	}
	instance := "/requests/" + requestID
	return api.Problem{
		Type: "/problems/" + string(e.Code), Title: titles[status], Status: int32(status),
		Detail: e.Message, Code: string(e.Code), Instance: &instance, Errors: &faults,
	}
}

// farmErrorOfEcho names what echo itself refuses: unknown paths and methods,
// bad parameters, bodies past the limit.
func farmErrorOfEcho(err error) *farm.Error {
	var he *echo.HTTPError
	if !errors.As(err, &he) {
		return nil
	}
	switch he.Code {
	case http.StatusNotFound:
		return farm.Refuse("path.not_found", "", "there is nothing at this path")
	case http.StatusMethodNotAllowed:
		return farm.Refuse("method.not_allowed", "", "this path does not take this method")
	case http.StatusRequestEntityTooLarge:
		return farm.Refuse("request.too_large", "", "the body is too large")
	case http.StatusBadRequest:
		return farm.Refuse("request.malformed", "", "%v", he.Message)
	case http.StatusServiceUnavailable:
		return farm.Refuse("server.busy", "", "the service is busy; try again")
	}
	return nil
}

// refuse is echo's error handler: every refusal leaves as a problem document.
func (s *Server) refuse(err error, c echo.Context) {
	if c.Response().Committed {
		return
	}
	id := requestID(c)
	p := problemOf(err, id)
	if p.Status == http.StatusInternalServerError {
		level := slog.LevelError
		if errors.Is(err, context.Canceled) {
			level = slog.LevelInfo // whoever asked has gone; nobody reads the answer
		}
		s.log.Log(c.Request().Context(), level, "request failed", slog.String("request_id", id), slog.Any("error", err))
	}
	h := c.Response().Header()
	switch p.Status {
	case http.StatusUnauthorized:
		h.Set("WWW-Authenticate", "Bearer")
	case http.StatusServiceUnavailable:
		if h.Get("Retry-After") == "" {
			h.Set("Retry-After", "2")
		}
	}
	body, merr := json.Marshal(p)
	if merr != nil {
		s.log.ErrorContext(c.Request().Context(), "problem not rendered", slog.Any("error", merr))
		body = []byte(`{}`)
	}
	if c.Request().Method == http.MethodHead {
		_ = c.NoContent(int(p.Status))
		return
	}
	_ = c.Blob(int(p.Status), problemType, body)
}
