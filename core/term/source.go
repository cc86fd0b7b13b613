package term

// Mark says how sure the source of a number is.
type Mark string

// The codes of [Mark].
const (
	MarkRead     Mark = "read"
	MarkPractice Mark = "practice"
	MarkMemory   Mark = "memory"
)

// MarkList is the list of every [Mark].
var MarkList = list("mark",
	MarkRead,
	MarkPractice,
	MarkMemory,
)

// Source says where a number is published, and how sure that is. Its keys are
// those of a file of rule data; the hash of a dose rule is over them.
type Source struct {
	Author string `json:"author" toml:"author"`
	Title  string `json:"title" toml:"title"`
	Year   int    `json:"year" toml:"year"`   // 0 where it is not known, or where there is no source
	Table  string `json:"table" toml:"table"` // table, page, section or formula, and what it says
	Via    string `json:"via" toml:"via"`     // what was read, where it was not the source itself
	Mark   Mark   `json:"mark" toml:"mark"`
}
