package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"time"
)

const clients = 16

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "bench:", err)
		os.Exit(1)
	}
}

// run is the whole measurement, or one of the processes it starts.
func run(ctx context.Context, args []string) error {
	if len(args) > 0 {
		switch args[0] {
		case "load":
			return loadCommand(ctx, args[1:])
		case "bare":
			return bareCommand(ctx, args[1:])
		}
	}
	flags := flag.NewFlagSet("bench", flag.ContinueOnError)
	length := flags.Duration("for", 5*time.Second, "how long each side runs in a round")
	rounds := flags.Int("rounds", 3, "rounds; the two sides take turns")
	gardens := flags.Int("gardens", 50, "gardens of the larger garden count")
	midden := flags.String("midden", "bin/midden", "the program to measure")
	if err := flags.Parse(args); err != nil {
		return err
	}
	b, err := open(ctx, *midden, *gardens)
	if err != nil {
		return err
	}
	defer b.close()
	for _, n := range []int{1, *gardens} {
		if err := b.intake(ctx, n, *rounds, *length); err != nil {
			return err
		}
	}
	return b.read(ctx, *rounds, *length)
}

// intake compares the intake of lots over n gardens with pgbench.
func (b *bench) intake(ctx context.Context, n, rounds int, length time.Duration) error {
	script, err := b.intakeScript(ctx, n)
	if err != nil {
		return err
	}
	return compare(fmt.Sprintf("intake of a lot, %d gardens, %d clients", n, clients), "midden", "pgbench", rounds,
		func() (float64, error) { return b.load(ctx, "intake", b.server.url, n, length) },
		func() (float64, error) { return b.pgbench(ctx, script, length) })
}

// read compares reading a bin's state with the bare handler.
func (b *bench) read(ctx context.Context, rounds int, length time.Duration) error {
	bare, err := b.startBare(ctx)
	if err != nil {
		return err
	}
	defer bare.stop()
	return compare(fmt.Sprintf("a bin's state, %d clients", clients), "midden", "bare handler", rounds,
		func() (float64, error) { return b.load(ctx, "state", b.server.url, 1, length) },
		func() (float64, error) { return b.load(ctx, "state", bare.url, 1, length) })
}

// compare runs the two sides in turn and prints each round and the median ratio.
func compare(what, nameA, nameB string, rounds int, a, b func() (float64, error)) error {
	fmt.Printf("\n%s\n", what)
	var ratios []float64
	for i := range rounds {
		va, err := a()
		if err != nil {
			return fmt.Errorf("%s: %w", nameA, err)
		}
		vb, err := b()
		if err != nil {
			return fmt.Errorf("%s: %w", nameB, err)
		}
		ratios = append(ratios, va/vb)
		fmt.Printf("  round %d: %s %.0f/s, %s %.0f/s, ratio %.2f\n", i+1, nameA, va, nameB, vb, va/vb)
	}
	slices.Sort(ratios)
	fmt.Printf("  ratio: median %.2f (%.2f to %.2f)\n", ratios[len(ratios)/2], ratios[0], ratios[len(ratios)-1])
	return nil
}
