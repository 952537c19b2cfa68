package plan

import "testing"

func TestStarterParses(t *testing.T) {
	p, err := Parse(Starter())
	if err != nil {
		t.Fatal(err)
	}
	families := map[string]bool{}
	for _, task := range p.Tasks {
		families[task.Family] = true
	}
	for _, f := range Families() {
		if !families[f] {
			t.Errorf("the starter has no task of family %s", f)
		}
	}
}
