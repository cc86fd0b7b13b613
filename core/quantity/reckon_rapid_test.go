package quantity

import (
	"math/big"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// triples are all triples of units of which the first two, multiplied, make
// the third.
var triples = sync.OnceValue(func() [][3]Unit {
	var all [][3]Unit
	for _, a := range Units() {
		for _, b := range Units() {
			for _, u := range Units() {
				if _, ok := fits(a, b, u, false); ok {
					all = append(all, [3]Unit{a, b, u})
				}
			}
		}
	}
	return all
})

// factors draws two amounts and a unit of their product.
func factors(t *rapid.T) (a, b Amount, u Unit) {
	units := rapid.SampledFrom(triples()).Draw(t, "units")
	a = Amount{readings().Draw(t, "a"), units[0]}
	b = Amount{readings().Draw(t, "b"), units[1]}
	return a, b, units[2]
}

// TestEveryProductHasItsQuotients: what a times b makes, divided by the one, is
// the other, by its units; and the other way round.
func TestEveryProductHasItsQuotients(t *testing.T) {
	products := 0
	for _, a := range Units() {
		for _, b := range Units() {
			for _, u := range Units() {
				n, product := fits(a, b, u, false)
				m, quotient := fits(u, b, a, true)
				if product != quotient || product && n != -m {
					t.Fatalf("%s times %s in %s: %v, %d; %[3]s by %[2]s in %[1]s: %[6]v, %[7]d", a, b, u, product, n, quotient, m)
				}
				if product {
					products++
				}
			}
		}
	}
	if products == 0 || products != len(triples()) {
		t.Errorf("%d products, %d triples", products, len(triples()))
	}
}

func rat(text string) *big.Rat {
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		panic(text + " is no number")
	}
	return r
}

// inBase gives the amount in the unit of its dimension by another arithmetic,
// that of math/big.
func inBase(a Amount) *big.Rat {
	d := a.Unit.definition()
	v := new(big.Rat).Mul(rat(a.Value.text), rat(d.times))
	return v.Quo(v, rat(orElse(d.by, "1")))
}

// TestRoundedOnce holds products and quotients against fractions of whole
// numbers: they are off by at most half of the 34th digit.
func TestRoundedOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, u := factors(t)
		divide := rapid.Bool().Draw(t, "divide")
		sign := 1
		if divide {
			a.Unit, u = u, a.Unit
			sign = -1
			if b.Value.Sign() == 0 {
				return
			}
		}
		got, err := combine(a, b, u, divide)
		if err != nil {
			t.Fatal(err)
		}
		other := inBase(b)
		if divide {
			other.Inv(other)
		}
		want := new(big.Rat).Mul(inBase(a), other)
		want.Quo(want, inBase(Amount{DecimalFromInt(1), u}))
		// For each kilogram that goes into or out of a unit, there is a body
		// mass that inBase has in grams.
		perKg := func(u Unit) int { return strings.Count(u.String(), "/kg") }
		for range perKg(a.Unit) + sign*perKg(b.Unit) - perKg(u) {
			want.Quo(want, rat("1000"))
		}
		for range perKg(u) - perKg(a.Unit) - sign*perKg(b.Unit) {
			want.Mul(want, rat("1000"))
		}
		off := new(big.Rat).Sub(rat(got.Value.text), want)
		half := rat("0.5") // of a unit in the last of 34 digits
		for size := new(big.Rat).Abs(want); size.Sign() > 0 && size.Cmp(rat("1")) < 0; size.Mul(size, rat("10")) {
			half.Quo(half, rat("10"))
		}
		for size := new(big.Rat).Abs(want); size.Cmp(rat("10")) >= 0; size.Quo(size, rat("10")) {
			half.Mul(half, rat("10"))
		}
		for range digits - 1 {
			half.Quo(half, rat("10"))
		}
		if off.Abs(off).Cmp(half) > 0 {
			t.Fatalf("%s with %s in %s is %s, off by %s", a, b, u, got, off.FloatString(60))
		}
	})
}

// closeTo reports whether two amounts of one unit differ by less than the 30th
// digit of the larger.
func closeTo(a, b Amount) bool {
	x, y := rat(a.Value.text), rat(b.Value.text)
	off := new(big.Rat).Sub(x, y)
	bound := x.Abs(x)
	if y.Abs(y).Cmp(bound) > 0 {
		bound = y
	}
	return a.Unit == b.Unit && off.Abs(off).Cmp(bound.Mul(bound, rat("1e-30"))) <= 0
}

func TestMulProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, u := factors(t)
		ab, err := a.Mul(b, u)
		if err != nil {
			t.Fatal(err)
		}
		if ba, err := b.Mul(a, u); err != nil || ba != ab {
			t.Fatalf("%s times %s is %s, the other way %s, %v", a, b, ab, ba, err)
		}
		if a.Value.Sign()*b.Value.Sign() != ab.Value.Sign() {
			t.Fatalf("%s times %s is %s", a, b, ab)
		}
		if b.Value.Sign() != 0 {
			if back, err := ab.Div(b, a.Unit); err != nil || !closeTo(back, a) {
				t.Fatalf("%s times %s is %s; divided again it is %s, %v", a, b, ab, back, err)
			}
		}
		// In other units it is the same.
		other := func(a Amount, name string) Amount {
			u := like(a.Unit).Filter(func(u Unit) bool { return weighsPeople(u) == weighsPeople(a.Unit) }).Draw(t, name)
			a, err := a.In(u)
			if err != nil {
				t.Fatal(err)
			}
			return a
		}
		x, y, v := other(a, "unit of a"), other(b, "unit of b"), other(ab, "unit of the product")
		if xy, err := x.Mul(y, v.Unit); err != nil || !closeTo(xy, v) {
			t.Fatalf("%s times %s is %s, yet %s times %s is %s, %v", a, b, v, x, y, xy, err)
		}
		// And it grows with each factor.
		two := DecimalFromInt(2)
		twice, err := a.Scale(two)
		if err != nil {
			t.Fatal(err)
		}
		left, err := twice.Mul(b, u)
		if err != nil {
			t.Fatal(err)
		}
		if right, err := ab.Scale(two); err != nil || !closeTo(left, right) {
			t.Fatalf("twice %s times %s is %s and %s, %v", a, b, left, right, err)
		}
	})
}

// scalars draws amounts that can be added.
func scalars() *rapid.Generator[Amount] {
	return amounts().Filter(func(a Amount) bool { return a.Unit.Dimension() != Temperature })
}

func TestSubProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := scalars().Draw(t, "a")
		b := Amount{readings().Draw(t, "b"), like(a.Unit).Draw(t, "unit")}
		d, err := a.Sub(b)
		if err != nil || d.Unit != a.Unit {
			t.Fatalf("%s - %s = %s, %v", a, b, d, err)
		}
		if back, err := d.Add(b); err != nil || !near(back, a) {
			t.Fatalf("%s - %s = %s; added again %s, %v", a, b, d, back, err)
		}
		c, err := a.Cmp(b)
		if err != nil || c != d.Value.Sign() {
			t.Fatalf("%s - %s = %s, yet Cmp is %d, %v", a, b, d, c, err)
		}
		low, err := a.Min(b)
		if err != nil {
			t.Fatal(err)
		}
		high, err := a.Max(b)
		if err != nil {
			t.Fatal(err)
		}
		if low != a && low != b || high != a && high != b {
			t.Fatalf("of %s and %s the smaller is %s and the larger %s", a, b, low, high)
		}
		for _, x := range []Amount{a, b} {
			if in, err := x.Between(low, high); err != nil || !in {
				t.Fatalf("of %s and %s the smaller is %s and the larger %s", a, b, low, high)
			}
		}
	})
}

func TestStepProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := scalars().Draw(t, "a")
		step := Amount{readings().Filter(func(d Decimal) bool { return d.Sign() > 0 }).Draw(t, "step"), like(a.Unit).Draw(t, "unit")}
		down, err := a.Down(step)
		if err != nil {
			t.Fatal(err)
		}
		up, err := a.Up(step)
		if err != nil {
			t.Fatal(err)
		}
		nearest, err := a.Nearest(step)
		if err != nil {
			t.Fatal(err)
		}
		// All in fractions of whole numbers, in which nothing is rounded.
		size, x := inBase(step), inBase(a)
		for _, m := range []Amount{down, up, nearest} {
			if n := new(big.Rat).Quo(inBase(m), size); !n.IsInt() || m.Unit != step.Unit {
				t.Fatalf("%s in steps of %s: %s is not a multiple", a, step, m)
			}
		}
		over := new(big.Rat).Sub(x, inBase(down))
		if over.Sign() < 0 || over.Cmp(size) >= 0 {
			t.Fatalf("%s down to steps of %s is %s", a, step, down)
		}
		under := new(big.Rat).Sub(inBase(up), x)
		if under.Sign() < 0 || under.Cmp(size) >= 0 {
			t.Fatalf("%s up to steps of %s is %s", a, step, up)
		}
		off := new(big.Rat).Sub(inBase(nearest), x)
		if off.Abs(off).Cmp(new(big.Rat).Quo(size, rat("2"))) > 0 || nearest != down && nearest != up {
			t.Fatalf("%s to the nearest step of %s is %s, of %s and %s", a, step, nearest, down, up)
		}
		for _, again := range []func(Amount) (Amount, error){down.Down, down.Up, down.Nearest} {
			if m, err := again(step); err != nil || m != down {
				t.Fatalf("%s is %s steps of %s, and then %s, %v", a, down, step, m, err)
			}
		}
	})
}

// TestNearestIsRound where the step is a power of ten.
func TestNearestIsRound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := scalars().Draw(t, "a")
		decimals := rapid.IntRange(0, 6).Draw(t, "decimals")
		step := Amount{DecimalFromInt(1), a.Unit}
		if decimals > 0 {
			step.Value = Decimal{"0." + strings.Repeat("0", decimals-1) + "1"}
		}
		m, err := a.Nearest(step)
		if want := a.Round(decimals); err != nil || m.Value.Cmp(want.Value) != 0 {
			t.Fatalf("%s to the nearest step of %s is %s, %v; rounded it is %s", a, step, m, err, want)
		}
	})
}
