package register

import (
	"context"

	"stopladder/analysis/film/measure"
)

// registerPair registers b against a. Where they have nothing in common that could be
// found, the registration is Refused: it lays the image areas on each other and
// says why in its Note. The error is ctx's.
func registerPair(ctx context.Context, a, b *measure.Look) (Registration, error) {
	fa, err := newPyramid(ctx, a)
	if err != nil {
		return Registration{}, err
	}
	fb := fa
	if a != b {
		if fb, err = newPyramid(ctx, b); err != nil {
			return Registration{}, err
		}
	}
	m := seek(ctx, fa, fb, nil, thorough, &scratch{})
	if err := ctx.Err(); err != nil {
		return Registration{}, err
	}
	if !m.ok {
		return refusal(a, b, m.why), nil
	}
	if same(a, b) {
		r := m.registration()
		r.Confidence, r.StdErr, r.cov, r.Note = 1, Errors{}, cov4{}, ""
		return r, nil
	}
	return m.registration(), nil
}

func (m *match) registration() Registration {
	r := Registration{How: Direct, Via: -1, cov: m.cov}
	r.set(m.pose)
	r.StdErr = m.cov.errors(r.Scale)
	r.Confidence = m.cov.within(shiftLimit, rotationLimit)
	r.Note = doubt(r)
	return r
}
