"""The console session: a line, a login, and nothing but reading."""
