package app

import (
	"net/http"

	"midden/internal/auth"
	"midden/internal/httpapi"
	"midden/internal/service"
)

// wire makes the API on the open store.
func (p *Program) wire(keys auth.Keys) (http.Handler, error) {
	// One service makes the tokens and takes them.
	parties := auth.Parties{Issuer: p.cfg.PublicURL, Audience: p.cfg.PublicURL}
	p.service = p.useCases(auth.NewSigner(keys, parties))
	return httpapi.New(httpapi.Options{
		Service:  p.service,
		Verifier: auth.NewVerifier(keys, parties),
		Log:      p.log,
		Now:      p.now,
		Ready:    p.ready,
		MaxBody:  p.cfg.MaxBodyBytes,
		Timeout:  p.cfg.RequestTimeout,
	})
}

// useCases need no signer where nobody signs in.
func (p *Program) useCases(signer *auth.Signer) *service.Service {
	return service.New(service.Options{
		Store:     p.store,
		Clock:     p.now,
		Passwords: auth.NewPasswords(auth.PasswordOptions{Slots: p.cfg.HashConcurrency}),
		Signer:    signer,
		PlanSlots: p.cfg.PlanConcurrency,
	})
}
