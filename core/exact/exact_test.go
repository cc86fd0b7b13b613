package exact

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"chinlift/core/quantity"
)

func TestArithmetic(t *testing.T) {
	third := Whole(1).Over(Whole(3))
	for _, c := range []struct {
		name string
		got  *Number
		want string
	}{
		{"a third three times", third.Times(Whole(3)), "1"},
		{"a third", third, "1/3"},
		{"a tenth and two tenths", Of("0.1").Plus(Of("0.2")), "3/10"}, // not so in floating point
		{"less", Of("0.5").Minus(Of("2")), "-3/2"},
		{"the other sign", Of("0.5").Neg(), "-1/2"},
		{"no sign", Of("-0.5").Abs(), "1/2"},
		{"lesser", Min(Whole(2), Of("1.5")), "3/2"},
		{"greater", Max(Whole(2), Of("1.5")), "2"},
		{"nought", new(Number), "0"},

		{"floor", Of("3.9").Floor(), "3"},
		{"floor below nought", Of("-3.1").Floor(), "-4"},
		{"floor of a whole one", Whole(-3).Floor(), "-3"},
		{"ceil", Of("3.1").Ceil(), "4"},
		{"ceil below nought", Of("-3.9").Ceil(), "-3"},
		{"ceil of a whole one", Whole(3).Ceil(), "3"},

		{"down to a step", Of("4.74").Down(Of("0.5")), "9/2"},
		{"on a step", Of("4.5").Down(Of("0.5")), "9/2"},
		{"nearest, under the half", Of("4.74").Nearest(Of("0.5")), "9/2"},
		{"nearest, at the half", Of("4.75").Nearest(Of("0.5")), "5"},
		{"down to decimals", Of("19.29").DownTo(1), "96/5"},
		{"up to decimals", Of("19.21").UpTo(1), "193/10"},
		{"up where it is even", Of("19.2").UpTo(1), "96/5"},
		{"down to none", Of("19.9").DownTo(0), "19"},
	} {
		if got := c.got.String(); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	if !Whole(4).IsWhole() || !new(Number).IsWhole() || third.IsWhole() {
		t.Error("whole numbers are told from others wrongly")
	}
	if Of("1.5").Sign() != 1 || Of("-1.5").Sign() != -1 || new(Number).Sign() != 0 {
		t.Error("signs")
	}
	if n := Of("-7.9").Int64(); n != -7 {
		t.Errorf("-7.9 without its decimals: %d", n)
	}
	if f := third.Float(); f != 1.0/3 {
		t.Errorf("a third: %v", f)
	}
}

func TestOfRefuses(t *testing.T) {
	for _, s := range []string{"", "4 mg", "many"} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%q is taken for a number", s)
				}
			}()
			Of(s)
		}()
	}
}

func TestAmount(t *testing.T) {
	for _, c := range []struct {
		name string
		got  quantity.Amount
		want string
	}{
		{"a half goes up", Of("2.25").Amount(1, quantity.ML), "2.3 mL"},
		{"below nought away from it", Of("-2.25").Amount(1, quantity.ML), "-2.3 mL"},
		{"noughts at the end go", Of("2.5").Amount(4, quantity.ML), "2.5 mL"},
		{"those of a whole number stay", Whole(200).Amount(0, quantity.ML), "200 mL"},
		{"nought", new(Number).Amount(2, quantity.ML), "0 mL"},
		{"nought has no sign", Of("-0.001").Amount(2, quantity.ML), "0 mL"},
		{"a third", Whole(1).Over(Whole(3)).Amount(3, quantity.ML), "0.333 mL"},
		{"of a model", Model(1.26, 1, quantity.ML), "1.3 mL"},
		{"of a model, nought", Model(-0.01, 1, quantity.ML), "0 mL"},
		{"as it is written", Written("3.50", quantity.Mm), "3.5 mm"},
		{"a point alone goes", Written("3.00", quantity.Mm), "3 mm"},
	} {
		if got := c.got.String(); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestIn(t *testing.T) {
	for _, c := range []struct{ amount, unit, want string }{
		{"5.5 g", "mg", "5500"},
		{"90 min", "h", "3/2"},
		// A third of an hour has no end; so many decimals of it are read.
		{"20 min", "h", "333333333333/1000000000000"},
	} {
		got, err := In(quantity.MustParse(c.amount), quantity.MustUnit(c.unit))
		if err != nil || got.String() != c.want {
			t.Errorf("%s in %s: %v, %v, want %s", c.amount, c.unit, got, err, c.want)
		}
	}
	if got, err := In(quantity.MustParse("5 mg"), quantity.ML); err == nil {
		t.Errorf("5 mg in mL: %s", got)
	}
	if got, err := In(quantity.Amount{}, quantity.ML); err == nil {
		t.Errorf("nothing in mL: %s", got)
	}
}

func TestRead(t *testing.T) {
	for _, c := range []struct{ name, amount, low, high, want string }{
		{"within", "3.5 kg", "0.4", "500", "7/2"},
		{"in another unit", "3500 g", "0.4", "500", "7/2"},
		{"at the low limit", "400 g", "0.4", "500", "2/5"},
		{"at the high limit", "500 kg", "0.4", "500", "500"},
		{"no high limit", "9000 kg", "0.4", "", "9000"},
		{"nothing", "", "0.4", "500", "weight: missing"},
		{"another dimension", "3 L", "0.4", "500", "weight: wrong-unit (3 L)"},
		{"too low", "399 g", "0.4", "500", "weight: too-low (399 g), want 0.4 kg to 500 kg"},
		{"too high", "501 kg", "0.4", "500", "weight: too-high (501 kg), want 0.4 kg to 500 kg"},
		{"too low, no high limit", "0.1 kg", "0.4", "", "weight: too-low (0.1 kg), want at least 0.4 kg"},
	} {
		var a quantity.Amount
		if c.amount != "" {
			a = quantity.MustParse(c.amount)
		}
		x, fault := Read("weight", a, quantity.Kg, c.low, c.high)
		if got := said(x, fault); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func said(x *Number, fault *Fault) string {
	if fault != nil {
		return fault.String()
	}
	return x.String()
}

// What was given may be long, and an error is for a line.
func TestFaultIsShort(t *testing.T) {
	long := "123456789012345678901234567890123456789012345678901234567890"
	f := Fault{Field: "code", Code: "unknown-code", Given: long + "and more"}
	if got, want := f.String(), "code: unknown-code ("+long+")"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func number() *rapid.Generator[*Number] {
	return rapid.Custom(func(t *rapid.T) *Number {
		return Whole(rapid.Int64Range(-1e12, 1e12).Draw(t, "over")).Over(Whole(rapid.Int64Range(1, 1e6).Draw(t, "under")))
	})
}

// What is exact obeys the laws; and no method changes the numbers it is given.
func TestLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y, z := number().Draw(t, "x"), number().Draw(t, "y"), number().Draw(t, "z")
		was := [3]string{x.String(), y.String(), z.String()}
		same := func(law string, a, b *Number) {
			if a.Cmp(b) != 0 {
				t.Errorf("%s: %s and %s", law, a, b)
			}
		}
		same("x + y - y", x.Plus(y).Minus(y), x)
		same("(x + y) z", x.Plus(y).Times(z), x.Times(z).Plus(y.Times(z)))
		same("x - y", x.Minus(y), y.Minus(x).Neg())
		same("lesser and greater", Min(x, y).Plus(Max(x, y)), x.Plus(y))
		same("without a sign", x.Abs(), Max(x, x.Neg()))
		same("read back", Of(x.String()), x)
		if y.Sign() != 0 {
			same("x / y * y", x.Over(y).Times(y), x)
		}
		if was != [3]string{x.String(), y.String(), z.String()} {
			t.Errorf("a number has changed: %v", was)
		}
	})
}

// Rounding: where it may come to lie, held against big.Rat and the definition.
func TestRounding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := number().Draw(t, "x")
		decimals := rapid.IntRange(0, 6).Draw(t, "decimals")
		step := Whole(rapid.Int64Range(1, 1000).Draw(t, "step")).Over(Whole(100))
		within := func(what string, off, most *Number) {
			if off.Sign() < 0 || off.Cmp(most) >= 0 {
				t.Errorf("%s of %s is off by %s", what, x, off)
			}
		}
		one := Whole(1).Over(Whole(int64(math.Pow10(decimals))))
		within("floor", x.Minus(x.Floor()), Whole(1))
		within("ceil", x.Ceil().Minus(x), Whole(1))
		within("down to decimals", x.Minus(x.DownTo(decimals)), one)
		within("up to decimals", x.UpTo(decimals).Minus(x), one)
		within("down", x.Minus(x.Down(step)), step)
		if off := x.Nearest(step).Minus(x).Abs().Times(Whole(2)); off.Cmp(step) > 0 {
			t.Errorf("nearest of %s is off by half of %s", x, off)
		}
		for _, n := range []*Number{x.Floor(), x.Ceil(), x.Down(step).Over(step), x.Nearest(step).Over(step), x.DownTo(decimals).Over(one)} {
			if !n.IsWhole() {
				t.Errorf("%s is rounded to %s", x, n)
			}
		}
		told := x.Amount(decimals, quantity.ML)
		if want, _ := new(big.Rat).SetString(x.rat.FloatString(decimals)); Of(told.Value.String()).rat.Cmp(want) != 0 {
			t.Errorf("%s is told as %s", x, told)
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add("70 kg")
	f.Add("154 [lb_av]")
	f.Add("0 kg")
	f.Add("-0.0 g")
	f.Add("9999999999999999999999999999 kg")
	f.Add("70 mL")
	f.Fuzz(func(t *testing.T, text string) {
		a, err := quantity.Parse(text)
		if err != nil {
			return
		}
		x, fault := Read("weight", a, quantity.Kg, "0.4", "500")
		if (x == nil) == (fault == nil) {
			t.Fatalf("%s: %v and %v", text, x, fault)
		}
		if fault != nil {
			if fault.Field != "weight" || fault.Code == "" || fault.String() == "" {
				t.Errorf("%s: %+v", text, fault)
			}
			return
		}
		if x.Cmp(Of("0.4")) < 0 || x.Cmp(Of("500")) > 0 {
			t.Errorf("%s is beyond its limits", text)
		}
		// It is the amount, as closely as it is read.
		back := x.Amount(Places, quantity.Kg)
		if y, fault := Read("weight", back, quantity.Kg, "0.4", "500"); fault != nil || y.Cmp(x) != 0 {
			t.Errorf("%s reads as %s, and that as %v (%v)", text, back, y, fault)
		}
	})
}
