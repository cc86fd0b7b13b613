// Package engines is a test alone: programs that others keep, DuckDB and
// PostgreSQL, ask the files of many clinics the questions of
// docs/many-clinics.md, and their answers are held against what the companion
// works out from the same lines.
package engines
