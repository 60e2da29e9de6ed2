package diagnose

import "reflect"

// engineOf returns the engine of a sheet. The last one is kept, with what it has
// foreseen, because a page asks again and again about one board; the trail's lock
// must be held until the engine was used.
func (t *Trail) engineOf(b *Board) *Engine {
	if b == nil {
		return nil
	}
	if t.engine == nil || !reflect.DeepEqual(t.engine.board, *b) {
		t.engine = New(*b)
	}
	return t.engine
}
