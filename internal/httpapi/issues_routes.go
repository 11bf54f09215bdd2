package httpapi

import (
	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/farm"
)

// ListComplaints lists complaints, the newest first.
func (s *Server) ListComplaints(c echo.Context, g api.GardenId, p api.ListComplaintsParams) error {
	return s.listIssues(c, g, farm.Complaint, issueList{p.Open, p.From, p.To, p.Limit, p.Cursor})
}

// CreateComplaint records a complaint.
func (s *Server) CreateComplaint(c echo.Context, g api.GardenId, p api.CreateComplaintParams) error {
	return s.recordIssue(c, g, farm.Complaint, p.IdempotencyKey)
}

// GetComplaint shows a complaint.
func (s *Server) GetComplaint(c echo.Context, g api.GardenId, id api.ComplaintId) error {
	return s.showIssue(c, g, farm.Complaint, id)
}

// UpdateComplaint adds what was done about a complaint, or closes it.
func (s *Server) UpdateComplaint(c echo.Context, g api.GardenId, id api.ComplaintId, p api.UpdateComplaintParams) error {
	return s.changeIssue(c, g, farm.Complaint, id, p.IfMatch)
}

// ListIncidents lists incidents, the newest first.
func (s *Server) ListIncidents(c echo.Context, g api.GardenId, p api.ListIncidentsParams) error {
	return s.listIssues(c, g, farm.Incident, issueList{p.Open, p.From, p.To, p.Limit, p.Cursor})
}

// CreateIncident records an incident.
func (s *Server) CreateIncident(c echo.Context, g api.GardenId, p api.CreateIncidentParams) error {
	return s.recordIssue(c, g, farm.Incident, p.IdempotencyKey)
}

// GetIncident shows an incident.
func (s *Server) GetIncident(c echo.Context, g api.GardenId, id api.IncidentId) error {
	return s.showIssue(c, g, farm.Incident, id)
}

// UpdateIncident adds what was done about an incident, or closes it.
func (s *Server) UpdateIncident(c echo.Context, g api.GardenId, id api.IncidentId, p api.UpdateIncidentParams) error {
	return s.changeIssue(c, g, farm.Incident, id, p.IfMatch)
}

// ListOfficialVisits lists official visits, the newest first.
func (s *Server) ListOfficialVisits(c echo.Context, g api.GardenId, p api.ListOfficialVisitsParams) error {
	return s.listIssues(c, g, farm.OfficialVisit, issueList{p.Open, p.From, p.To, p.Limit, p.Cursor})
}

// CreateOfficialVisit records an official visit.
func (s *Server) CreateOfficialVisit(c echo.Context, g api.GardenId, p api.CreateOfficialVisitParams) error {
	return s.recordIssue(c, g, farm.OfficialVisit, p.IdempotencyKey)
}

// GetOfficialVisit shows an official visit.
func (s *Server) GetOfficialVisit(c echo.Context, g api.GardenId, id api.OfficialVisitId) error {
	return s.showIssue(c, g, farm.OfficialVisit, id)
}

// UpdateOfficialVisit adds what was done about an official visit, or closes it.
func (s *Server) UpdateOfficialVisit(c echo.Context, g api.GardenId, id api.OfficialVisitId, p api.UpdateOfficialVisitParams) error {
	return s.changeIssue(c, g, farm.OfficialVisit, id, p.IfMatch)
}
