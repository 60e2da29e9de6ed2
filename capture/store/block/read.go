package block

// reader decodes columns; its scratch space is reused.
type reader struct {
	buf []byte
}

// column decodes a column into xs and returns what follows.
func (r *reader) column(xs []int64, data []byte) (rest []byte, err error) {
	if len(xs) == 0 {
		return data, nil
	}
	part, data, err := take(data, 1)
	if err != nil {
		return nil, err
	}
	switch part[0] {
	case codeNone:
		return readLine(xs, data)
	case codeRice:
		return r.rice(xs, data)
	case codeRuns:
		return r.runs(xs, data)
	case codeBound:
		return r.bound(xs, data)
	}
	return nil, corrupt("a column of the unknown code %d", part[0])
}

func readLine(xs []int64, data []byte) (rest []byte, err error) {
	x, data, err := varint(data)
	if err != nil {
		return nil, err
	}
	step, data, err := varint(data)
	if err != nil {
		return nil, err
	}
	for i := range xs {
		xs[i] = x
		x += step
	}
	return data, nil
}

// read takes over what stands at the head of a predicted column.
func (m *model) read(data []byte) (rest []byte, err error) {
	part, data, err := take(data, 1)
	if err != nil {
		return nil, err
	}
	m.shift, m.frac = uint(part[0]&15), uint(part[0]>>4)
	if m.unit, data, err = uvarint(data); err != nil {
		return nil, err
	}
	if m.base, data, err = varint(data); err != nil {
		return nil, err
	}
	m.step, data, err = varint(data)
	return data, err
}

// parameter reads a Rice parameter.
func parameter(data []byte) (k uint, rest []byte, err error) {
	part, rest, err := take(data, 1)
	if err != nil {
		return 0, nil, err
	}
	if part[0] > 63 {
		return 0, nil, corrupt("a Rice parameter of %d", part[0])
	}
	return uint(part[0]), rest, nil
}

// stream copies the bits of a column to where zeros follow them.
func (r *reader) stream(data []byte) (s bitReader, rest []byte, err error) {
	n, data, err := uvarint(data)
	if err != nil {
		return s, nil, err
	}
	part, rest, err := take(data, n)
	if err != nil {
		return s, nil, err
	}
	r.buf = append(r.buf[:0], part...)
	r.buf = append(r.buf, make([]byte, spare)...)
	return bitReader{buf: r.buf, end: n * 8}, rest, nil
}

func (r *reader) rice(xs []int64, data []byte) (rest []byte, err error) {
	var m model
	if data, err = m.read(data); err != nil {
		return nil, err
	}
	k, data, err := parameter(data)
	if err != nil {
		return nil, err
	}
	s, data, err := r.stream(data)
	if err != nil {
		return nil, err
	}
	if k <= mostQuick {
		m.quick(&s, xs, k)
	} else {
		m.slow(&s, xs, k)
	}
	if !s.finish() {
		return nil, corrupt("a column of %d rows does not fit its %d bytes", len(xs), s.end/8)
	}
	return data, nil
}

func (r *reader) bound(xs []int64, data []byte) (rest []byte, err error) {
	var m model
	if data, err = m.read(data); err != nil {
		return nil, err
	}
	bound, data, err := uvarint(data)
	if err != nil {
		return nil, err
	}
	if bound < 1 || bound > 1<<mostBoundBits {
		return nil, corrupt("a column with a bound of %d", bound)
	}
	s, data, err := r.stream(data)
	if err != nil {
		return nil, err
	}
	if m.bound(&s, xs, bound); !s.finish() {
		return nil, corrupt("a column of %d rows does not fit its %d bytes", len(xs), s.end/8)
	}
	return data, nil
}

func (r *reader) runs(xs []int64, data []byte) (rest []byte, err error) {
	var m model
	if data, err = m.read(data); err != nil {
		return nil, err
	}
	gap, data, err := parameter(data)
	if err != nil {
		return nil, err
	}
	k, data, err := parameter(data)
	if err != nil {
		return nil, err
	}
	events, data, err := uvarint(data)
	if err != nil {
		return nil, err
	}
	s, data, err := r.stream(data)
	if err != nil {
		return nil, err
	}
	if events > uint64(len(xs)) || !m.events(&s, xs, int(events), gap, k) || !s.finish() {
		return nil, corrupt("a column of %d runs for %d rows in %d bytes", events, len(xs), s.end/8)
	}
	return data, nil
}
