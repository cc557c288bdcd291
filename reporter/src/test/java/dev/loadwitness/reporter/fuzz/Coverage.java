// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.fuzz;

import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.nio.file.FileSystem;
import java.nio.file.FileSystems;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Map;
import java.util.TreeMap;
import java.util.regex.Pattern;
import java.util.stream.Stream;
import org.jacoco.core.analysis.Analyzer;
import org.jacoco.core.analysis.CoverageBuilder;
import org.jacoco.core.analysis.IPackageCoverage;
import org.jacoco.core.tools.ExecFileLoader;

/** What a campaign reached of the packages under test, by JaCoCo's agent in the same process. */
final class Coverage {
    private static final Pattern RUNLOG_JAR = Pattern.compile("runlog-[^/]*\\.jar$");

    private Coverage() {}

    private record Reached(int lines, int allLines, int branches, int allBranches) {
        Reached plus(Reached more) {
            return new Reached(
                    lines + more.lines,
                    allLines + more.allLines,
                    branches + more.branches,
                    allBranches + more.allBranches);
        }
    }

    /** Prints nothing where the agent is not there. */
    static void print(List<String> packages) throws IOException {
        byte[] data = data();
        if (data.length == 0) {
            return;
        }
        ExecFileLoader loader = new ExecFileLoader();
        loader.load(new ByteArrayInputStream(data));
        CoverageBuilder builder = new CoverageBuilder();
        Analyzer analyzer = new Analyzer(loader.getExecutionDataStore(), builder);
        for (String place : System.getProperty("java.class.path").split(":", -1)) {
            Path path = Path.of(place);
            if (Files.isDirectory(path.resolve("dev/loadwitness")) && !path.endsWith("test-classes")) {
                analyze(path, packages, analyzer);
            } else if (RUNLOG_JAR.matcher(place).find()) {
                try (FileSystem jar = FileSystems.newFileSystem(path)) {
                    analyze(jar.getPath("/"), packages, analyzer);
                }
            }
        }
        Map<String, Reached> reached = new TreeMap<>();
        for (IPackageCoverage p : builder.getBundle("").getPackages()) {
            String name = p.getName().replace('/', '.').replace("dev.loadwitness.", "");
            if (packages.stream().anyMatch(wanted -> ("dev.loadwitness." + name).startsWith(wanted))) {
                reached.put(
                        name,
                        new Reached(
                                p.getLineCounter().getCoveredCount(),
                                p.getLineCounter().getTotalCount(),
                                p.getBranchCounter().getCoveredCount(),
                                p.getBranchCounter().getTotalCount()));
            }
        }
        reached.values().stream().reduce(Reached::plus).ifPresent(all -> reached.put("all", all));
        reached.forEach((name, r) -> System.out.printf(
                "COVERAGE %s lines=%d/%d branches=%d/%d%n",
                name, r.lines(), r.allLines(), r.branches(), r.allBranches()));
    }

    private static void analyze(Path root, List<String> packages, Analyzer analyzer) throws IOException {
        try (Stream<Path> files = Files.walk(root)) {
            for (Path file : files.filter(f -> f.toString().endsWith(".class")).toList()) {
                if (packages.stream().anyMatch(p -> file.toString().contains(p.replace('.', '/') + "/"))) {
                    analyzer.analyzeClass(Files.readAllBytes(file), file.toString());
                }
            }
        }
    }

    /** The agent lies in a package of a random name: it is asked by its own class, where the system has it. */
    private static byte[] data() {
        try {
            Class<?> runtime = Class.forName("org.jacoco.agent.rt.RT", true, ClassLoader.getSystemClassLoader());
            Object agent = runtime.getMethod("getAgent").invoke(null);
            return (byte[]) agent.getClass()
                    .getMethod("getExecutionData", boolean.class)
                    .invoke(agent, false);
        } catch (ReflectiveOperationException e) {
            return new byte[0];
        }
    }
}
