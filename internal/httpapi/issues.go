package httpapi

import (
	"context"
	"net/http"
	"time"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
	"github.com/oapi-codegen/nullable"
	openapi_types "github.com/oapi-codegen/runtime/types"

	"midden/api"
	"midden/internal/farm"
	"midden/internal/service"
)

// Complaints, incidents and official visits have one shape on the wire; the
// contract, which lists the kinds of each, is what tells them apart.
type issue struct {
	ID         uuid.UUID           `json:"id"`
	OccurredAt time.Time           `json:"occurred_at"`
	Kind       string              `json:"kind"`
	What       string              `json:"what"`
	SiteID     *uuid.UUID          `json:"site_id,omitempty"`
	BinID      *uuid.UUID          `json:"bin_id,omitempty"`
	Action     *string             `json:"action,omitempty"`
	ActionBy   *uuid.UUID          `json:"action_by_member_id,omitempty"`
	ClosedOn   *openapi_types.Date `json:"closed_on,omitempty"`
	Day        openapi_types.Date  `json:"day"`
	RecordedAt time.Time           `json:"recorded_at"`
	By         uuid.UUID           `json:"by_member_id"`
	Version    int                 `json:"version"`
}

type issuePatch struct {
	Kind     *string                               `json:"kind"`
	What     *string                               `json:"what"`
	SiteID   nullable.Nullable[uuid.UUID]          `json:"site_id"`
	BinID    nullable.Nullable[uuid.UUID]          `json:"bin_id"`
	Action   nullable.Nullable[string]             `json:"action"`
	ActionBy nullable.Nullable[uuid.UUID]          `json:"action_by_member_id"`
	ClosedOn nullable.Nullable[openapi_types.Date] `json:"closed_on"`
}

var issuePaths = map[farm.IssueClass]string{
	farm.Complaint: "complaints", farm.Incident: "incidents", farm.OfficialVisit: "official-visits"}

func issueOut(i farm.Issue) any {
	return issue{ID: i.ID, OccurredAt: i.OccurredAt, Kind: i.Kind, What: i.What, SiteID: nonZero(i.SiteID), BinID: nonZero(i.BinID),
		Action: ptrIf(i.Action), ActionBy: nonZero(i.ActionBy), ClosedOn: dayOutPtr(i.ClosedOn), Day: dayOut(i.Day),
		RecordedAt: i.RecordedAt, By: i.RecordedBy, Version: i.Version}
}

func issueReply(status int) reply[farm.Issue] {
	return reply[farm.Issue]{Status: status, Wire: issueOut, Version: func(i farm.Issue) int { return i.Version }}
}

// issueList is what the three lists ask for.
type issueList struct {
	open     *bool
	from, to *openapi_types.Date
	limit    *api.Limit
	cursor   *api.Cursor
}

func (s *Server) listIssues(c echo.Context, g api.GardenId, class farm.IssueClass, p issueList) error {
	f := service.IssueFilter{Class: class, From: dayInPtr(p.from), Until: dayInPtr(p.to)}
	if p.open != nil {
		f.Open, f.Closed = *p.open, !*p.open
	}
	list, err := s.svc.Issues(c.Request().Context(), actor(c), g, f, pageOf(p.limit, p.cursor))
	if err != nil {
		return err
	}
	return sendPage(c, list, issueOut)
}

func (s *Server) recordIssue(c echo.Context, g api.GardenId, class farm.IssueClass, key api.IdempotencyKey) error {
	in, err := body[issue](c)
	if err != nil {
		return err
	}
	i := farm.Issue{ID: in.ID, Class: class, Kind: in.Kind, What: in.What, SiteID: value(in.SiteID), BinID: value(in.BinID),
		Action: value(in.Action), ActionBy: value(in.ActionBy), ClosedOn: dayInPtr(in.ClosedOn), OccurredAt: in.OccurredAt}
	r := issueReply(http.StatusCreated)
	r.Location = func(x farm.Issue) string { return gardenPath(g, issuePaths[class], x.ID) }
	return once(s, c, key, r, func(ctx context.Context, a service.Actor, o service.Once) (service.Done[farm.Issue], error) {
		return s.svc.RecordIssue(ctx, a, g, i, o)
	})
}

func (s *Server) showIssue(c echo.Context, g api.GardenId, class farm.IssueClass, id uuid.UUID) error {
	i, err := s.svc.Issue(c.Request().Context(), actor(c), g, class, id)
	if err != nil {
		return err
	}
	return send(c, issueReply(http.StatusOK), i)
}

func (s *Server) changeIssue(c echo.Context, g api.GardenId, class farm.IssueClass, id uuid.UUID, match *api.IfMatch) error {
	in, err := body[issuePatch](c)
	if err != nil {
		return err
	}
	v, err := version(match)
	if err != nil {
		return err
	}
	i, err := s.svc.UpdateIssue(c.Request().Context(), actor(c), g, class, id, v, func(x *farm.Issue) { patchIssue(x, in) })
	if err != nil {
		return err
	}
	return send(c, issueReply(http.StatusOK), i)
}

func patchIssue(x *farm.Issue, in issuePatch) {
	set(&x.Kind, in.Kind)
	set(&x.What, in.What)
	if f := patchOf(in.SiteID); f.Set {
		x.SiteID = f.Value
	}
	if f := patchOf(in.BinID); f.Set {
		x.BinID = f.Value
	}
	if f := patchOf(in.Action); f.Set {
		x.Action = f.Value
	}
	if f := patchOf(in.ActionBy); f.Set {
		x.ActionBy = f.Value
	}
	if f := patchOf(in.ClosedOn); f.Set {
		x.ClosedOn = dayInPtr(nil)
		if !f.Clear {
			x.ClosedOn = dayIn(f.Value)
		}
	}
}
