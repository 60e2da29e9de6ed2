package trend

import (
	"math"
	"time"
)

// runningLine is a straight line through a stream of readings, and the
// correlation of their residuals from their neighbours' differences (von
// Neumann, Annals of Mathematical Statistics 12 (1941) 367): φ is one less half
// the mean square difference over the variance.
type runningLine struct {
	n             int
	x, y          float64 // means, y less the first value
	sxx, sxy, syy float64
	origin        float64
	lastX, lastY  float64
	steps         Moments // differences of neighbours
}

func (l *runningLine) add(x, v float64) {
	if l.n == 0 {
		l.origin = v
	} else {
		l.steps.Add(v - l.lastY)
	}
	l.lastX, l.lastY = x, v
	l.n++
	n, y := float64(l.n), v-l.origin
	dx, dy := x-l.x, y-l.y
	l.x += dx / n
	l.y += dy / n
	l.sxx += float64(dx * (x - l.x))
	l.sxy += float64(dx * (y - l.y))
	l.syy += float64(dy * (y - l.y))
}

// correlationTime is that of the residuals: 0 for noise, and for a correlation
// below twice its own standard deviation.
func (l *runningLine) correlationTime() time.Duration {
	if l.n < 3 || !(l.sxx > 0) {
		return 0
	}
	variance := (l.syy - float64(l.sxy*l.sxy)/l.sxx) / float64(l.n-2)
	if !(variance > 0) {
		return 0
	}
	sd := l.steps.SD()
	phi := 1 - float64(sd*sd)/(2*variance)
	if phi < 2/math.Sqrt(float64(l.n)) {
		return 0
	}
	return seconds(CorrelationTime(l.lastX/float64(l.n-1), phi))
}
