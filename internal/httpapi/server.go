package httpapi

import (
	"context"
	"log/slog"
	"net/http"
	"time"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/auth"
	"midden/internal/service"
	"midden/openapi"
)

// Options are what the edge needs. Zero limits are fit for use.
type Options struct {
	Service  *service.Service
	Verifier *auth.Verifier
	Log      *slog.Logger
	Now      func() time.Time
	Ready    func(context.Context) error // nil error: the service can serve
	MaxBody  int64                       // bytes; 0: 1 MiB
	Timeout  time.Duration               // of one request; 0: 30 s
}

// Server implements the contract.
type Server struct {
	svc      *service.Service
	verifier *auth.Verifier
	log      *slog.Logger
	now      func() time.Time
	ready    func(context.Context) error
	contract *Contract
	maxBody  int64
	timeout  time.Duration
}

var _ api.ServerInterface = (*Server)(nil)

// New makes the handler of the whole API. It fails when the contract is unsound.
func New(o Options) (*echo.Echo, error) {
	contract, err := LoadContract()
	if err != nil {
		return nil, err
	}
	s := &Server{svc: o.Service, verifier: o.Verifier, log: o.Log, now: o.Now, ready: o.Ready,
		contract: contract, maxBody: o.MaxBody, timeout: o.Timeout}
	if s.maxBody <= 0 {
		s.maxBody = 1 << 20
	}
	if s.timeout <= 0 {
		s.timeout = 30 * time.Second
	}
	e := echo.New()
	e.HideBanner, e.HidePort = true, true
	e.HTTPErrorHandler = s.refuse
	e.Use(s.identify, s.observe, s.guard)
	api.RegisterHandlers(e, s)
	return e, nil
}

// Livez says that the process is up.
func (s *Server) Livez(c echo.Context) error {
	return c.JSON(http.StatusOK, api.Health{Status: api.HealthStateOk})
}

// Readyz says whether the database answers and its schema is the one this
// binary was built for.
func (s *Server) Readyz(c echo.Context) error {
	if err := s.ready(c.Request().Context()); err != nil {
		s.log.WarnContext(c.Request().Context(), "not ready", slog.Any("error", err))
		return busy("the database is not ready")
	}
	return c.JSON(http.StatusOK, api.Health{Status: api.HealthStateOk})
}

// GetContract serves the contract the binary was built from.
func (s *Server) GetContract(c echo.Context) error {
	return c.Blob(http.StatusOK, "application/yaml", openapi.YAML)
}
