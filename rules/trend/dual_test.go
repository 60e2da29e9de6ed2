package trend_test

import (
	"math"

	"steadyrail/rules/trend"
)

// dual is a value with its derivatives by the parameters: what the formulas of
// the reference sets are written in, so that their slopes are exact and need no
// second formula (forward differentiation).
type dual struct {
	v float64
	d [9]float64
}

func con(v float64) dual { return dual{v: v} }

// chain is f(a) with f' given.
func (a dual) chain(v, slope float64) dual {
	for i := range a.d {
		a.d[i] *= slope
	}
	a.v = v
	return a
}

func (a dual) plus(b dual) dual {
	a.v += b.v
	for i := range a.d {
		a.d[i] += b.d[i]
	}
	return a
}

func (a dual) times(b dual) dual {
	for i := range a.d {
		a.d[i] = float64(a.d[i]*b.v) + float64(a.v*b.d[i])
	}
	a.v *= b.v
	return a
}

func (a dual) by(v float64) dual  { return a.times(con(v)) }
func (a dual) add(v float64) dual { return a.plus(con(v)) }
func (a dual) minus(b dual) dual  { return a.plus(b.by(-1)) }
func (a dual) over(b dual) dual   { return a.times(b.chain(1/b.v, -1/(b.v*b.v))) }
func (a dual) exp() dual          { e := math.Exp(a.v); return a.chain(e, e) }
func (a dual) log() dual          { return a.chain(math.Log(a.v), 1/a.v) }
func (a dual) pow(p float64) dual { return a.chain(math.Pow(a.v, p), p*math.Pow(a.v, p-1)) }
func (a dual) square() dual       { return a.times(a) }
func (a dual) sin() dual          { return a.chain(math.Sin(a.v), math.Cos(a.v)) }
func (a dual) cos() dual          { return a.chain(math.Cos(a.v), -math.Sin(a.v)) }
func (a dual) atan() dual         { return a.chain(math.Atan(a.v), 1/(1+a.v*a.v)) }
func (a dual) power(b dual) dual  { return a.log().times(b).exp() }
func poly(x float64, b ...dual) (p dual) {
	for i := len(b) - 1; i >= 0; i-- {
		p = p.by(x).plus(b[i])
	}
	return p
}

// modelOf makes a model of a formula in one or two predictors.
func modelOf(x [][]float64, formula func(x []float64, b []dual) dual) trend.Model {
	return func(i int, b, slope []float64) float64 {
		duals := make([]dual, len(b))
		for j, v := range b {
			duals[j].v, duals[j].d[j] = v, 1
		}
		out := formula(x[i], duals)
		copy(slope, out.d[:])
		return out.v
	}
}

func rational(x []float64, top, bottom []dual) dual {
	return poly(x[0], top...).over(poly(x[0], append([]dual{con(1)}, bottom...)...))
}

func saturation(x []float64, b []dual) dual { return b[0].times(con(1).minus(b[1].by(-x[0]).exp())) }

func chwirut(x []float64, b []dual) dual {
	return b[0].by(-x[0]).exp().over(b[1].plus(b[2].by(x[0])))
}

func lanczos(x []float64, b []dual) (sum dual) {
	for i := 0; i < 6; i += 2 {
		sum = sum.plus(b[i].times(b[i+1].by(-x[0]).exp()))
	}
	return sum
}

func cubics(x []float64, b []dual) dual { return rational(x, b[:4], b[4:]) }

func gauss(x []float64, b []dual) dual {
	sum := b[0].times(b[1].by(-x[0]).exp())
	for i := 2; i < 8; i += 3 {
		z := con(x[0]).minus(b[i+1]).over(b[i+2])
		sum = sum.plus(b[i].times(z.square().by(-1).exp()))
	}
	return sum
}

func enso(x []float64, b []dual) dual {
	wave := func(period, c, s dual) dual {
		angle := con(2 * math.Pi * x[0]).over(period)
		return c.times(angle.cos()).plus(s.times(angle.sin()))
	}
	return b[0].plus(wave(con(12), b[1], b[2])).plus(wave(b[3], b[4], b[5])).plus(wave(b[6], b[7], b[8]))
}

// formulas are the models of the nonlinear sets of NIST StRD.
var formulas = map[string]func(x []float64, b []dual) dual{
	"Misra1a": saturation, "BoxBOD": saturation, "Chwirut1": chwirut, "Chwirut2": chwirut,
	"Lanczos2": lanczos, "Lanczos3": lanczos, "Thurber": cubics, "Hahn1": cubics,
	"Gauss1": gauss, "Gauss2": gauss, "Gauss3": gauss, "ENSO": enso,
	"Misra1b": func(x []float64, b []dual) dual {
		return b[0].times(con(1).minus(b[1].by(x[0] / 2).add(1).pow(-2)))
	},
	"Misra1c": func(x []float64, b []dual) dual {
		return b[0].times(con(1).minus(b[1].by(2 * x[0]).add(1).pow(-0.5)))
	},
	"Misra1d": func(x []float64, b []dual) dual {
		return b[0].times(b[1]).by(x[0]).over(b[1].by(x[0]).add(1))
	},
	"MGH09": func(x []float64, b []dual) dual {
		return b[0].times(b[1].by(x[0]).add(x[0] * x[0])).over(b[2].by(x[0]).plus(b[3]).add(x[0] * x[0]))
	},
	"MGH10": func(x []float64, b []dual) dual { return b[0].times(b[1].over(b[2].add(x[0])).exp()) },
	"MGH17": func(x []float64, b []dual) dual {
		return b[0].plus(b[1].times(b[3].by(-x[0]).exp())).plus(b[2].times(b[4].by(-x[0]).exp()))
	},
	"Eckerle4": func(x []float64, b []dual) dual {
		z := con(x[0]).minus(b[2]).over(b[1])
		return b[0].over(b[1]).times(z.square().by(-0.5).exp())
	},
	"Rat42": func(x []float64, b []dual) dual { return b[0].over(b[1].minus(b[2].by(x[0])).exp().add(1)) },
	"Rat43": func(x []float64, b []dual) dual {
		return b[0].over(b[1].minus(b[2].by(x[0])).exp().add(1).power(con(1).over(b[3])))
	},
	"DanWood": func(x []float64, b []dual) dual { return b[0].times(con(x[0]).power(b[1])) },
	"Kirby2":  func(x []float64, b []dual) dual { return rational(x, b[:3], b[3:]) },
	"Nelson": func(x []float64, b []dual) dual { // of log y
		return b[0].minus(b[1].by(x[0]).times(b[2].by(-x[1]).exp()))
	},
	"Roszman1": func(x []float64, b []dual) dual {
		return b[0].minus(b[1].by(x[0])).minus(b[2].over(con(x[0]).minus(b[3])).atan().by(1 / math.Pi))
	},
	"Bennett5": func(x []float64, b []dual) dual { return b[0].times(b[1].add(x[0]).power(con(-1).over(b[2]))) },
}
