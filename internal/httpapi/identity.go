package httpapi

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"midden/api"
	"midden/internal/service"
)

// SignIn gives tokens for an email and its password.
func (s *Server) SignIn(c echo.Context) error {
	in, err := body[api.SignIn](c)
	if err != nil {
		return err
	}
	t, err := s.svc.SignIn(c.Request().Context(), in.Email, in.Password, value(in.Device))
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, tokensOut(t))
}

// RefreshToken trades a refresh token for new tokens.
func (s *Server) RefreshToken(c echo.Context) error {
	in, err := body[api.Refresh](c)
	if err != nil {
		return err
	}
	t, err := s.svc.Refresh(c.Request().Context(), in.RefreshToken)
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, tokensOut(t))
}

func tokensOut(t service.Tokens) api.Tokens {
	return api.Tokens{AccessToken: t.Access, TokenType: api.Bearer, ExpiresInS: int32(t.ExpiresIn.Seconds()),
		RefreshToken: t.Refresh, RefreshExpiresAt: t.RefreshExpiresAt}
}

// SignOut ends the session of the access token.
func (s *Server) SignOut(c echo.Context) error {
	if err := s.svc.SignOut(c.Request().Context(), actor(c)); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}

// GetMe tells who is signed in.
func (s *Server) GetMe(c echo.Context) error {
	me, err := s.svc.Me(c.Request().Context(), actor(c))
	if err != nil {
		return err
	}
	return c.JSON(http.StatusOK, api.Me{
		AccountId: me.Account.ID, Email: me.Account.Email, DisplayName: me.Account.DisplayName,
		MayFoundGardens: me.Account.MayFound, Memberships: mapped(me.Mine, membershipOut),
	})
}

func membershipOut(m service.Mine) api.MyMembership {
	return api.MyMembership{GardenId: m.Garden.ID, GardenName: m.Garden.Name, MemberId: m.Member.ID, Role: api.Role(m.Member.Role)}
}

// ChangeMyPassword sets a new password.
func (s *Server) ChangeMyPassword(c echo.Context) error {
	in, err := body[api.PasswordChange](c)
	if err != nil {
		return err
	}
	if err := s.svc.ChangePassword(c.Request().Context(), actor(c), in.CurrentPassword, in.NewPassword); err != nil {
		return err
	}
	return c.NoContent(http.StatusNoContent)
}
