package pgrun

import (
	"fmt"
	"net/url"
	"strings"
)

// WithRole returns the connection string dsn, in either of Postgres's two forms, with another role, password and database.
// An empty password leaves none.
func WithRole(dsn, role, password, database string) (string, error) {
	if !strings.HasPrefix(dsn, "postgres://") && !strings.HasPrefix(dsn, "postgresql://") {
		// In the keyword form the last of two settings counts.
		return fmt.Sprintf("%s user=%s password=%s dbname=%s", dsn, keyword(role), keyword(password), keyword(database)), nil
	}
	u, err := url.Parse(dsn)
	if err != nil {
		// url.Error repeats the whole string, and with it the password.
		return "", fmt.Errorf("connection string: not a valid URL")
	}
	u.User = url.User(role)
	if password != "" {
		u.User = url.UserPassword(role, password)
	}
	u.Path, u.RawPath = "/"+database, ""
	q := u.Query()
	for _, name := range []string{"user", "password", "dbname", "database"} {
		q.Del(name)
	}
	u.RawQuery = q.Encode()
	return u.String(), nil
}

func keyword(v string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, `'`, `\'`).Replace(v) + "'"
}

func (s *Server) dsn(role, database string) string {
	u := url.URL{Scheme: "postgres", User: url.User(role), Path: "/" + database,
		RawQuery: url.Values{"host": {s.socket}, "port": {"5432"}, "sslmode": {"disable"}}.Encode()}
	return u.String()
}
