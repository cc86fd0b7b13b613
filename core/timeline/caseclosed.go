package timeline

// CaseClosed ends the record of a case. What is found out later can still be
// entered: it shows as late.
type CaseClosed struct{}

// Kind is "case-closed/1".
func (*CaseClosed) Kind() Kind { return "case-closed/1" }

// Check has nothing to refuse.
func (*CaseClosed) Check() error { return nil }
