package app

import "testing"

// A page for a phone takes so many files and no more; closing the one of a job
// never loses another that was opened at the same time.
func TestHandoversBounds(t *testing.T) {
	var o handovers
	h := &handover{}
	for i := range mostReceived {
		if !o.takes(h) {
			t.Fatalf("file %d was not taken", i+1)
		}
	}
	if o.takes(h) || h.told.Received != mostReceived {
		t.Errorf("%d files were taken", h.told.Received)
	}
	if o.put("AB-1", h) != nil || o.put("AB-1", &handover{}) != h || o.put("AB-2", h) != nil {
		t.Error("the page before is not handed back to be closed")
	}
}
