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
