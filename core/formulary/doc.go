// Package formulary reckons doses by rules that stand in files, one for each
// drug.
package formulary
