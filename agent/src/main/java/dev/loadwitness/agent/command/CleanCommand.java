// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.command;

import com.fasterxml.jackson.core.JsonFactory;
import com.fasterxml.jackson.core.JsonGenerator;
import dev.loadwitness.agent.leftover.Leftover;
import dev.loadwitness.agent.leftover.Leftovers;
import dev.loadwitness.agent.place.Home;
import dev.loadwitness.agent.program.Exit;
import dev.loadwitness.agent.program.Version;
import dev.loadwitness.agent.screen.Prompt;
import dev.loadwitness.runlog.command.Complaint;
import dev.loadwitness.runlog.command.Terminal;
import dev.loadwitness.runlog.disk.DiskException;
import java.io.Console;
import java.io.IOException;
import java.io.PrintWriter;
import java.io.StringWriter;
import java.io.UncheckedIOException;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.LinkedHashMap;
import java.util.List;
import java.util.Map;
import java.util.Optional;
import java.util.concurrent.Callable;
import java.util.stream.Collectors;
import picocli.CommandLine.Command;
import picocli.CommandLine.Model.CommandSpec;
import picocli.CommandLine.Option;
import picocli.CommandLine.Spec;

@Command(
        name = "clean",
        description = {
            "Lists what Loadwitness left on this machine, and removes it when told to: copies of the "
                    + "program in memory, locks and reserves of logs that nobody writes any more, files of "
                    + "broken-off measurements and copies.",
            "Never removes a log that is nowhere else, never follows a link, and touches only your own "
                    + "files (as root: all). On a terminal it asks; elsewhere it only lists, unless --yes is "
                    + "given."
        },
        mixinStandardHelpOptions = true,
        versionProvider = Version.class,
        exitCodeListHeading = "%nExit status:%n",
        exitCodeList = {
            " 0:nothing of ours is left that can go",
            " 1:something is left: only listed, or not to be removed",
            "64:wrong usage"
        },
        footer = {"", "Example:", "  loadwitness-agent clean --yes"})
public final class CleanCommand implements Callable<Integer> {
    @Spec
    private CommandSpec spec;

    @Option(names = "--yes", description = "remove without asking")
    private boolean yes;

    @Option(names = "--json", description = "print JSON; asks nothing")
    private boolean json;

    @Option(
            names = "--out",
            paramLabel = "DIR",
            description = "look for logs below DIR too (may be given more than once); always: where 'run' puts them")
    private List<Path> out = new ArrayList<>();

    @Override
    public Integer call() throws Complaint {
        List<Path> folders = new ArrayList<>();
        folders.add(Home.ofThisProgram().runs());
        folders.addAll(out);
        List<Path> plain = folders.stream()
                .map(f -> f.toAbsolutePath().normalize())
                .distinct()
                .toList();
        Leftovers look = Leftovers.ofThisUser();
        List<Leftover> found = look.find(plain);
        PrintWriter writer = spec.commandLine().getOut();
        if (!json) {
            list(found, writer);
            look.notLookedInto().forEach(why -> writer.println("NOT LOOKED INTO: " + why));
            writer.flush();
        }
        boolean any = found.stream().anyMatch(Leftover::mayGo);
        Map<Leftover, String> failed = new LinkedHashMap<>();
        boolean remove = any && (yes || (!json && isConfirmed()));
        if (remove) {
            // Somebody may have thought for long: what was shown is looked at anew, and what must stay by now stays.
            Map<Path, Leftover> again =
                    Leftovers.ofThisUser().find(plain).stream().collect(Collectors.toMap(Leftover::path, l -> l));
            for (Leftover leftover : found) {
                Leftover by = again.get(leftover.path());
                if (leftover.mayGo() && by != null) {
                    remove(leftover, by, failed, writer);
                }
            }
        }
        if (json) {
            writer.print(json(found, look.notLookedInto(), remove, failed));
            writer.flush();
        } else if (any && !remove) {
            writer.println("Nothing was removed; --yes removes what can go.");
        }
        return (any && !remove) || !failed.isEmpty() ? Exit.ENDED_EARLY : Exit.COMPLETED;
    }

    private static void list(List<Leftover> found, PrintWriter writer) {
        if (found.isEmpty()) {
            writer.println(
                    "Nothing of Loadwitness was found on this machine but what you may have put there yourself.");
        }
        for (Leftover leftover : found) {
            writer.println((leftover.mayGo() ? "can go  " : "stays   ") + leftover.path() + "   "
                    + leftover.kind().words() + ", " + leftover.bytes() + " bytes"
                    + (leftover.mayGo() ? "" : ": " + leftover.kept()));
        }
        writer.flush();
    }

    private static boolean isConfirmed() throws Complaint {
        Optional<Console> terminal = Terminal.find();
        return terminal.isPresent()
                && Prompt.answer(terminal.get(), "Remove what can go? (yes, or Enter for no): ")
                        .equals("yes");
    }

    private void remove(Leftover leftover, Leftover now, Map<Leftover, String> failed, PrintWriter writer) {
        String why;
        try {
            if (now.mayGo()) {
                Leftovers.remove(now);
                if (!json) {
                    writer.println("removed " + leftover.path());
                }
                return;
            }
            why = now.kept();
        } catch (IOException e) {
            why = e instanceof DiskException ? e.getMessage() : e.toString();
        }
        failed.put(leftover, why);
        if (!json) {
            writer.println("LEFT    " + leftover.path() + ": " + why);
        }
    }

    private static String json(
            List<Leftover> found, List<String> notLookedInto, boolean removed, Map<Leftover, String> failed) {
        StringWriter text = new StringWriter();
        try (JsonGenerator json = new JsonFactory().createGenerator(text)) {
            json.useDefaultPrettyPrinter();
            json.writeStartObject();
            json.writeStringField("format", "loadwitness-clean/1");
            json.writeArrayFieldStart("found");
            for (Leftover leftover : found) {
                json.writeStartObject();
                json.writeStringField("path", leftover.path().toString());
                json.writeStringField("what", leftover.kind().words());
                json.writeNumberField("bytes", leftover.bytes());
                json.writeStringField("kept", leftover.kept());
                json.writeBooleanField("removed", removed && leftover.mayGo() && !failed.containsKey(leftover));
                json.writeStringField("failed", failed.getOrDefault(leftover, ""));
                json.writeEndObject();
            }
            json.writeEndArray();
            json.writeArrayFieldStart("notLookedInto");
            for (String why : notLookedInto) {
                json.writeString(why);
            }
            json.writeEndArray();
            json.writeEndObject();
        } catch (IOException e) {
            throw new UncheckedIOException(e); // a StringWriter does not fail
        }
        return text.append('\n').toString();
    }
}
