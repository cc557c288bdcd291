// SPDX-License-Identifier: Apache-2.0
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.LocalDate;
import java.util.ArrayList;
import java.util.Arrays;
import java.util.List;
import java.util.Locale;
import java.util.Map;
import java.util.regex.Matcher;
import java.util.regex.Pattern;
import java.util.stream.Collectors;
import picocli.AutoComplete;
import picocli.CommandLine;
import picocli.CommandLine.Help;
import picocli.CommandLine.Help.Ansi;
import picocli.CommandLine.Help.Ansi.Style;
import picocli.CommandLine.Model.ArgSpec;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Model.OptionSpec;

/**
 * Writes a manual page for each command and a bash completion for each program, from the help that the commands print.
 * Run while the package is built, with both programs' jars on the class path; it goes into neither of them.
 *
 * <p>picocli's own generator of pages writes AsciiDoc, which a second and much larger tool would have to turn into roff.
 * The library's synopsis, labels and texts are used as they are, so that page and {@code --help} cannot differ.
 */
final class ManualPages {
    private static final int ONE_LINE = 10_000;
    /** What the library puts around a word that has a style; {@link #roff} turns it into a font. */
    private static final Pattern STYLE = Pattern.compile("\u001B\\[([0-9;]*)m");

    private static final Map<String, String> FONTS = Map.of("1", "\\fB", "3", "\\fI", "0", "\\fR");
    private static final Help.ColorScheme STYLED = new Help.ColorScheme.Builder(Ansi.ON)
            .commands(Style.bold)
            .options(Style.bold)
            .parameters(Style.italic)
            .optionParams(Style.italic)
            .build();

    private final LocalDate date;
    private final List<CommandLine> programs;

    private ManualPages(LocalDate date, List<CommandLine> programs) {
        this.date = date;
        this.programs = programs;
    }

    public static void main(String[] args) throws IOException, ClassNotFoundException {
        if (args.length < 3) {
            System.err.println("usage: ManualPages.java FOLDER DATE MAIN-CLASS...\n"
                    + "writes FOLDER/man/*.1 and FOLDER/completions/*, dated DATE (2026-11-25)");
            System.exit(64);
        }
        Locale.setDefault(Locale.ROOT);
        List<CommandLine> programs = new ArrayList<>();
        for (String main : Arrays.asList(args).subList(2, args.length)) {
            programs.add(new CommandLine(Class.forName(main)).setUsageHelpWidth(ONE_LINE));
        }
        Path folder = Path.of(args[0]);
        Path man = Files.createDirectories(folder.resolve("man"));
        Path completions = Files.createDirectories(folder.resolve("completions"));
        ManualPages pages = new ManualPages(LocalDate.parse(args[1]), programs);
        for (CommandLine program : programs) {
            Files.writeString(
                    completions.resolve(program.getCommandName()),
                    // Sourced, never run: without the interpreter line.
                    AutoComplete.bash(program.getCommandName(), program).replaceFirst("^#!.*\n", ""));
            for (CommandLine command : withSubcommands(program)) {
                Files.writeString(man.resolve(pageName(command) + ".1"), pages.page(command));
            }
        }
    }

    private static List<CommandLine> withSubcommands(CommandLine command) {
        List<CommandLine> all = new ArrayList<>(List.of(command));
        shown(command).forEach(c -> all.addAll(withSubcommands(c)));
        return all;
    }

    private static List<CommandLine> shown(CommandLine command) {
        return command.getSubcommands().values().stream()
                .distinct() // an alias is a second name of the same command
                .filter(c -> !c.getCommandSpec().usageMessage().hidden())
                .toList();
    }

    private static String pageName(CommandLine command) {
        return command.getCommandSpec().qualifiedName("-");
    }

    private String page(CommandLine command) {
        CommandSpec spec = command.getCommandSpec();
        Help help = new Help(spec, STYLED);
        StringBuilder page = new StringBuilder();
        page.append(".\\\" Made from the command's own help. Do not edit.\n");
        page.append(".TH ").append(pageName(command).toUpperCase(Locale.ROOT)).append(" 1 ").append(date);
        line(page, "", version(spec.root()), "User Commands");
        line(page, ".SH", "NAME");
        page.append(roff(pageName(command))).append(" \\- ").append(roff(summary(spec))).append('\n');
        line(page, ".SH", "SYNOPSIS");
        page.append(".nh\n.ad l\n").append(roff(help.synopsis(0).strip())).append("\n.ad b\n.hy\n");
        line(page, ".SH", "DESCRIPTION");
        page.append(paragraph(spec.usageMessage().description())).append('\n');
        if (!shown(command).isEmpty()) {
            line(page, ".SH", "COMMANDS");
            for (CommandLine sub : shown(command)) {
                tagged(page, "\\fB" + roff(sub.getCommandName()) + "\\fR", "See \\fB" + roff(pageName(sub)) + "\\fR(1). "
                        + paragraph(sub.getCommandSpec().usageMessage().description()));
            }
        }
        arguments(page, help, "ARGUMENTS", spec.positionalParameters());
        arguments(page, help, "OPTIONS", spec.options());
        if (!spec.usageMessage().exitCodeList().isEmpty()) {
            line(page, ".SH", "EXIT STATUS");
            spec.usageMessage()
                    .exitCodeList()
                    .forEach((status, meaning) -> tagged(page, roff(status.strip()), roff(plain(meaning))));
        }
        footer(page, spec.usageMessage().footer());
        line(page, ".SH", "FILES");
        tagged(page, "\\fI/usr/share/loadwitness/thresholds/\\fR", "Procedures, to copy and edit.");
        tagged(page, "\\fI/usr/share/doc/loadwitness/\\fR", "Guides, and an example of a job sheet.");
        line(page, ".SH", "SEE ALSO");
        page.append(".nh\n.ad l\n");
        page.append(programs.stream()
                        .flatMap(p -> withSubcommands(p).stream())
                        .filter(c -> c != command)
                        .map(c -> "\\fB" + roff(pageName(c)) + "\\fR(1)")
                        .collect(Collectors.joining(",\n")))
                .append('\n');
        return page.toString();
    }

    /** First sentence of the description, as whatis(1) shows it: "prints what is there". */
    private static String summary(CommandSpec spec) {
        String first = plain(spec.usageMessage().description()[0]).split("[.:](?= |$)", 2)[0];
        return first.substring(0, 1).toLowerCase(Locale.ROOT) + first.substring(1);
    }

    /** "loadwitness 0.1.0" of "loadwitness-agent 0.1.0 (and more)". */
    private static String version(CommandSpec program) {
        return "loadwitness " + program.version()[0].split(" ")[1];
    }

    private static void arguments(StringBuilder page, Help help, String heading, List<? extends ArgSpec> arguments) {
        List<? extends ArgSpec> listed = arguments.stream().filter(a -> !a.hidden()).toList();
        if (listed.isEmpty()) {
            return;
        }
        line(page, ".SH", heading);
        for (ArgSpec argument : listed) {
            String label = help.parameterLabelRenderer()
                    .renderParameterLabel(argument, Ansi.ON, STYLED.optionParamStyles())
                    .toString();
            String names = argument instanceof OptionSpec option
                    ? Arrays.stream(option.names())
                            .map(n -> "\\fB" + roff(n) + "\\fR")
                            .collect(Collectors.joining(", "))
                    : "";
            String required = argument.required() && argument.isOption() ? " Required." : "";
            tagged(page, names + roff(label), paragraph(argument.description()) + required);
        }
    }

    /** "Example:" and the like become sections, indented lines in them are shown as they are. */
    private static void footer(StringBuilder page, String[] lines) {
        boolean example = false;
        for (String raw : lines) {
            String text = plain(raw);
            boolean indented = text.startsWith("  ");
            if (indented != example) {
                page.append(indented ? ".EX\n" : ".EE\n");
                example = indented;
            }
            if (indented) {
                page.append(roff(text.substring(2))).append('\n');
            } else if (text.endsWith(":")) {
                line(page, ".SH", text.substring(0, text.length() - 1).toUpperCase(Locale.ROOT));
            } else if (!text.isBlank()) {
                page.append(".PP\n").append(roff(text)).append('\n');
            }
        }
        if (example) {
            page.append(".EE\n");
        }
    }

    private static String paragraph(String[] lines) {
        return Arrays.stream(lines)
                .map(ManualPages::plain)
                .map(ManualPages::sentence)
                .map(ManualPages::roff)
                .collect(Collectors.joining("\n"));
    }

    /** Help lines are terse; in a page each is a sentence. Words of a command line keep their case. */
    private static String sentence(String text) {
        boolean ends = text.isEmpty() || ".!?:".indexOf(text.charAt(text.length() - 1)) >= 0;
        boolean word = text.matches("[a-z]+[ ,;].*");
        String begun = word ? text.substring(0, 1).toUpperCase(Locale.ROOT) + text.substring(1) : text;
        return ends ? begun : begun + ".";
    }

    /** A line of help without its markup. */
    private static String plain(String help) {
        return Ansi.OFF.new Text(String.format(Locale.ROOT, help)).toString();
    }

    private static void tagged(StringBuilder page, String tag, String text) {
        page.append(".TP\n").append(tag).append('\n').append(text).append('\n');
    }

    private static void line(StringBuilder page, String macro, String... arguments) {
        page.append(macro);
        for (String argument : arguments) {
            page.append(" \"").append(roff(argument).replace("\"", "\\(dq")).append('"');
        }
        page.append('\n');
    }

    /** Text that a formatter shows as it stands, with styles as fonts. */
    private static String roff(String text) {
        StringBuilder out = new StringBuilder();
        Matcher style = STYLE.matcher(text);
        int from = 0;
        while (style.find()) {
            escape(text.substring(from, style.start()), out);
            out.append(FONTS.getOrDefault(style.group(1), ""));
            from = style.end();
        }
        escape(text.substring(from), out);
        return out.toString();
    }

    private static void escape(String text, StringBuilder out) {
        for (int c : text.codePoints().toArray()) {
            boolean lineBegins = out.length() == 0 || out.charAt(out.length() - 1) == '\n';
            if (lineBegins && (c == '.' || c == '\'')) {
                out.append("\\&");
            }
            switch (c) {
                case '\\' -> out.append("\\e");
                case '-' -> out.append("\\-"); // a minus: people copy options
                case '\'' -> out.append("\\(aq");
                case '`' -> out.append("\\(ga");
                case '^' -> out.append("\\(ha");
                case '~' -> out.append("\\(ti");
                default -> {
                    if (c < 0x80) {
                        out.appendCodePoint(c);
                    } else {
                        out.append(String.format(Locale.ROOT, "\\[u%04X]", c)); // whatever encoding the reader has
                    }
                }
            }
        }
    }
}
