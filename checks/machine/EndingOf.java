// SPDX-License-Identifier: Apache-2.0

import dev.loadwitness.runlog.ending.EndCause;
import dev.loadwitness.runlog.ending.Ending;
import java.io.BufferedReader;
import java.io.IOException;
import java.io.InputStreamReader;
import java.io.PrintStream;
import java.nio.charset.StandardCharsets;
import java.util.LinkedHashMap;
import java.util.Map;

/**
 * What the project's own classification makes of the facts of a boot-evidence record. Standard input: a fact a line, name
 * and text with a tab between. Standard output: a cause a line: shown, open or excluded, the cause, and why.
 */
final class EndingOf {
    public static void main(String[] arguments) throws IOException {
        Map<String, String> facts = new LinkedHashMap<>();
        BufferedReader in = new BufferedReader(new InputStreamReader(System.in, StandardCharsets.UTF_8));
        for (String line = in.readLine(); line != null; line = in.readLine()) {
            String[] parts = line.split("\t", 2);
            facts.put(parts[0], parts[1]);
        }
        Ending ending = Ending.of(facts);
        PrintStream out = new PrintStream(System.out, true, StandardCharsets.UTF_8);
        print(out, "shown", ending.shown());
        print(out, "open", ending.open());
        print(out, "excluded", ending.excluded());
    }

    private static void print(PrintStream out, String how, Map<EndCause, String> causes) {
        causes.forEach((cause, why) -> out.println(how + "\t" + cause.word() + "\t" + why));
    }
}
