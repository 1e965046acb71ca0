package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// narrowHelp prints help and usage no wider than the reader's columns. The texts
// are written as they are read in the source; paragraphs are filled anew, and
// lines that begin with a space stay as they are.
func narrowHelp(root *cobra.Command, width int) {
	root.SetUsageFunc(func(cmd *cobra.Command) error {
		_, err := fmt.Fprint(cmd.OutOrStderr(), usageText(cmd, width))
		return err
	})
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) {
		long := cmd.Long
		if long == "" {
			long = cmd.Short
		}
		fmt.Fprint(cmd.OutOrStdout(), fill(strings.TrimSpace(long), width), "\n\n", usageText(cmd, width))
	})
}

// usageText lists how a command is called, its examples, the commands under it
// and its flags.
func usageText(cmd *cobra.Command, width int) string {
	var b strings.Builder
	b.WriteString("Usage:\n")
	if cmd.Runnable() {
		b.WriteString(strings.Join(wrap(cmd.UseLine(), width, "  ", "    "), "\n") + "\n")
	}
	if cmd.HasAvailableSubCommands() {
		b.WriteString("  " + cmd.CommandPath() + " [command]\n")
	}
	if cmd.HasExample() {
		b.WriteString("\nExamples:\n" + cmd.Example + "\n")
	}
	if cmd.HasAvailableSubCommands() {
		b.WriteString("\nCommands:\n")
		longest := 0
		for _, sub := range cmd.Commands() {
			if sub.IsAvailableCommand() || sub.Name() == "help" {
				longest = max(longest, len(sub.Name()))
			}
		}
		for _, sub := range cmd.Commands() {
			if sub.IsAvailableCommand() || sub.Name() == "help" {
				first := fmt.Sprintf("  %-*s  ", longest, sub.Name())
				b.WriteString(strings.Join(wrap(sub.Short, width, first, strings.Repeat(" ", len(first))), "\n") + "\n")
			}
		}
	}
	for _, part := range []struct {
		heading string
		flags   *pflag.FlagSet
	}{{"Flags", cmd.LocalFlags()}, {"Flags of all commands", cmd.InheritedFlags()}} {
		if part.flags.HasAvailableFlags() {
			b.WriteString("\n" + part.heading + ":\n" + strings.TrimRight(part.flags.FlagUsagesWrapped(width), "\n") + "\n")
		}
	}
	if cmd.HasAvailableSubCommands() {
		b.WriteString("\n\"" + cmd.CommandPath() + " COMMAND --help\" says more about a command.\n")
	}
	return b.String()
}

// fill sets paragraphs anew in so many columns. Lines that begin with a space, or
// a paragraph that holds one, stay as they are.
func fill(text string, width int) string {
	paragraphs := strings.Split(text, "\n\n")
	for i, p := range paragraphs {
		if !strings.HasPrefix(p, " ") && !strings.Contains(p, "\n ") {
			paragraphs[i] = strings.Join(wrap(strings.ReplaceAll(p, "\n", " "), width, "", ""), "\n")
		}
	}
	return strings.Join(paragraphs, "\n\n")
}
