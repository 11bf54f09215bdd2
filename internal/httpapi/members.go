package httpapi

import (
	"context"
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

func memberOut(m farm.Member) any {
	return api.Member{Id: m.ID, Email: ptrIf(m.Email), DisplayName: m.DisplayName, Role: api.Role(m.Role),
		HouseholdId: nonZero(m.HouseholdID), Active: m.Active, AccountId: nonZero(m.AccountID),
		Version: int32(m.Version), CreatedAt: m.CreatedAt}
}

func memberReply(status int) reply[farm.Member] {
	return reply[farm.Member]{Status: status, Wire: memberOut, Version: func(m farm.Member) int { return m.Version }}
}

// ListMembers lists the people of the garden.
func (s *Server) ListMembers(c echo.Context, g api.GardenId, p api.ListMembersParams) error {
	f := service.MemberFilter{Role: farm.Role(value(p.Role)), Standing: standing(p.Active), Prefix: value(p.NamePrefix)}
	list, err := s.svc.Members(c.Request().Context(), actor(c), g, f, pageOf(p.Limit, p.Cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, memberOut)
}

// GetMember shows one member.
func (s *Server) GetMember(c echo.Context, g api.GardenId, id api.MemberId) error {
	m, err := s.svc.Member(c.Request().Context(), actor(c), g, id)
	if err != nil {
		return err
	}
	return send(c, memberReply(http.StatusOK), m)
}

// UpdateMember changes a member's name, role, household or standing.
func (s *Server) UpdateMember(c echo.Context, g api.GardenId, id api.MemberId, p api.UpdateMemberParams) error {
	in, err := body[api.MemberPatch](c)
	if err != nil {
		return err
	}
	v, err := version(p.IfMatch)
	if err != nil {
		return err
	}
	m, err := s.svc.UpdateMember(c.Request().Context(), actor(c), g, id, v, func(m *farm.Member) {
		set(&m.DisplayName, in.DisplayName)
		setAs(&m.Role, in.Role)
		set(&m.Active, in.Active)
		patchID(&m.HouseholdID, in.HouseholdId)
	})
	if err != nil {
		return err
	}
	return send(c, memberReply(http.StatusOK), m)
}

// CreateMember adds a person to the garden.
func (s *Server) CreateMember(c echo.Context, g api.GardenId, p api.CreateMemberParams) error {
	in, err := body[api.MemberNew](c)
	if err != nil {
		return err
	}
	m := service.MemberNew{ID: value(in.Id), Email: in.Email, InitialPassword: value(in.InitialPassword),
		DisplayName: in.DisplayName, Role: farm.Role(in.Role), HouseholdID: value(in.HouseholdId)}
	r := memberReply(http.StatusCreated)
	r.Location = func(x farm.Member) string { return gardenPath(g, "members", x.ID) }
	return once(s, c, p.IdempotencyKey, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Member], error) {
		return s.svc.AddMember(ctx, a, g, m, o)
	})
}
