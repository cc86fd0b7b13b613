package plain

import (
	"bytes"
	"errors"
	"testing"

	"chinlift/core"
)

func TestFaultsAsFiles(t *testing.T) {
	faults := []core.Fault{
		{What: "equipment", List: "open-drop", Item: "suction", Name: `=Suction, "the" pump`, State: "fault", Answer: "mended", Stop: true, At: "2026-03-02T08:00:00+03:00", Version: "5e5e"},
		{What: "shortage", Item: "drug", Name: "atropine", Amount: "3", Note: "not enough"},
	}
	for name, want := range map[string]string{
		"faults.csv": "what,list,item,name,state,answer,stop,at,by,version,photo,amount,note\r\n" +
			"equipment,open-drop,suction,\"'=Suction, \"\"the\"\" pump\",fault,mended,true,2026-03-02T08:00:00+03:00,,5e5e,false,,\r\n" +
			"shortage,,drug,atropine,,,false,,,,false,3,\"not enough\"\r\n",
		"faults.jsonl": `{"what":"equipment","list":"open-drop","item":"suction","name":"=Suction, \"the\" pump","state":"fault","answer":"mended","stop":true,"at":"2026-03-02T08:00:00+03:00","version":"5e5e"}` + "\n" +
			`{"what":"shortage","item":"drug","name":"atropine","amount":"3","note":"not enough"}` + "\n",
	} {
		var b bytes.Buffer
		if err := WriteFaults(&b, name, faults); err != nil || b.String() != want {
			t.Errorf("%s: %v\n%s\nwant\n%s", name, err, &b, want)
		}
	}
	if err := WriteFaults(&bytes.Buffer{}, "faults.doc", faults); !errors.Is(err, ErrNoFile) {
		t.Errorf("another file: %v", err)
	}
}
