package bus

// TickBatch does once what Run does over and over.
func TickBatch(b *Bus) { b.tickBatch() }
