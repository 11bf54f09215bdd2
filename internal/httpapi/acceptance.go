package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func acceptanceOut(l farm.AcceptanceList) any {
	return api.AcceptanceList{Version: int32(l.Version), AcceptedMaterials: mapped(l.Accepted, same), Refused: mapped(l.Refused, same),
		ValidFrom: dayOut(l.ValidFrom), Note: ptrIf(l.Note), CreatedAt: l.CreatedAt}
}

// same leaves a text as it is.
func same(s string) string { return s }

// ListAcceptanceLists lists every version of what the garden takes.
func (s *Server) ListAcceptanceLists(c echo.Context, g api.GardenId, p api.ListAcceptanceListsParams) error {
	list, err := s.svc.AcceptanceLists(c.Request().Context(), actor(c), g, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, acceptanceOut)
}

// CreateAcceptanceList issues a new version. A version has no place of its
// own: Location is the list, whose first row it is.
func (s *Server) CreateAcceptanceList(c echo.Context, g api.GardenId, p api.CreateAcceptanceListParams) error {
	in, err := body[api.AcceptanceListNew](c)
	if err != nil {
		return err
	}
	list := farm.AcceptanceList{Accepted: in.AcceptedMaterials, Refused: in.Refused, ValidFrom: dayIn(in.ValidFrom), Note: value(in.Note)}
	r := reply[farm.AcceptanceList]{Status: http.StatusCreated, Wire: acceptanceOut,
		Location: func(farm.AcceptanceList) string { return "/v1/gardens/" + g.String() + "/acceptance-lists" }}
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.AcceptanceList], error) {
		return s.svc.IssueAcceptance(ctx, a, g, list, o)
	})
}

func notTodayOut(n farm.NotToday) any {
	return api.NotToday{Groups: mapped(n.Groups, func(g farm.Group) api.GoEasyGroup { return api.GoEasyGroup(g) }), Until: dayOutPtr(n.Until)}
}

var notTodayReply = reply[farm.NotToday]{Status: http.StatusOK, Wire: notTodayOut, Version: func(n farm.NotToday) int { return n.Version }}

// GetNotToday shows what is not taken for now.
func (s *Server) GetNotToday(c echo.Context, g api.GardenId) error {
	n, err := s.svc.NotToday(c.Request().Context(), actor(c), g)
	if err != nil {
		return err
	}
	return send(c, notTodayReply, n)
}

// PutNotToday says what is not taken for now.
func (s *Server) PutNotToday(c echo.Context, g api.GardenId, p api.PutNotTodayParams) error {
	in, err := body[api.NotToday](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	n := farm.NotToday{Groups: mapped(in.Groups, func(g api.GoEasyGroup) farm.Group { return farm.Group(g) }), Until: dayInPtr(in.Until)}
	if n, err = s.svc.SetNotToday(c.Request().Context(), actor(c), g, v, n); err != nil {
		return err
	}
	return send(c, notTodayReply, n)
}
