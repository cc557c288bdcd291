// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import static com.tngtech.archunit.lang.syntax.ArchRuleDefinition.noClasses;
import static org.assertj.core.api.Assertions.assertThat;

import com.tngtech.archunit.base.DescribedPredicate;
import com.tngtech.archunit.core.domain.AccessTarget;
import com.tngtech.archunit.core.domain.JavaClass;
import com.tngtech.archunit.core.domain.JavaClasses;
import com.tngtech.archunit.core.importer.ImportOption;
import com.tngtech.archunit.junit.AnalyzeClasses;
import com.tngtech.archunit.junit.ArchTest;
import com.tngtech.archunit.lang.ArchCondition;
import com.tngtech.archunit.lang.ArchRule;
import com.tngtech.archunit.lang.ConditionEvents;
import com.tngtech.archunit.lang.EvaluationResult;
import com.tngtech.archunit.lang.SimpleConditionEvent;
import java.util.Set;

/**
 * Files are opened, made, replaced and removed by {@code runlog.disk} and nothing else: it refuses links, pipes and other
 * users' places. Whatever of Java's own doors is not in {@link #LOOKS} fails the build here.
 */
@AnalyzeClasses(packages = "dev.loadwitness", importOptions = ImportOption.DoNotIncludeTests.class)
final class DiskMapTest {
    /** What looks at a name without opening it. */
    private static final Set<String> LOOKS = Set.of(
            "exists",
            "getAttribute",
            "getFileStore",
            "getLastModifiedTime",
            "isDirectory",
            "isExecutable",
            "isReadable",
            "isRegularFile",
            "readAttributes",
            "size");

    private static final Set<String> FILE_CHANGES = Set.of(
            "createNewFile",
            "createTempFile",
            "delete",
            "deleteOnExit",
            "mkdir",
            "mkdirs",
            "renameTo",
            "setExecutable",
            "setLastModified",
            "setReadOnly",
            "setReadable",
            "setWritable");

    /** Those that open a file when they are given its name or path, and not where they are given an open one. */
    private static final Set<String> OPENERS = Set.of(
            "java.io.FileInputStream",
            "java.io.FileOutputStream",
            "java.io.FileReader",
            "java.io.FileWriter",
            "java.io.PrintStream",
            "java.io.PrintWriter",
            "java.io.RandomAccessFile",
            "java.util.Formatter",
            "java.util.Scanner",
            "java.util.jar.JarFile",
            "java.util.zip.ZipFile");

    /**
     * They read files that the kernel or the system makes, in places where only root can change a name ({@code /proc},
     * {@code /sys}, {@code /etc}, {@code /var/log}), whose links are the system's own; and nothing else.
     */
    private static final Set<String> READERS_OF_THE_SYSTEM = Set.of(
            "dev.loadwitness.agent.evidence.linux.Bounded",
            "dev.loadwitness.agent.evidence.linux.LoginRecords",
            "dev.loadwitness.agent.process.SystemProgram",
            "dev.loadwitness.agent.sensor.linux.device.BusDevices",
            "dev.loadwitness.agent.sensor.linux.file.Greeting",
            "dev.loadwitness.agent.sensor.linux.file.SampledFile",
            "dev.loadwitness.agent.sensor.linux.message.KernelLog",
            "dev.loadwitness.agent.sensor.linux.LinuxFacts",
            "dev.loadwitness.agent.sensor.linux.file.Sysfs");

    @ArchTest
    static final ArchRule filesAreOpenedInOneWay = noClasses()
            .that()
            .resideOutsideOfPackage("..runlog.disk..")
            .and(DescribedPredicate.describe(
                    "read no files of the system", (JavaClass user) -> !READERS_OF_THE_SYSTEM.contains(user.getName())))
            .should(useAnotherDoorToTheDisk());

    @ArchTest
    static void theRuleSeesWhatItForbids(JavaClasses classes) {
        JavaClasses disk = classes.that(JavaClass.Predicates.resideInAPackage("..runlog.disk.."));
        EvaluationResult seen = noClasses().should(useAnotherDoorToTheDisk()).evaluate(disk);
        String all = String.join("\n", seen.getFailureReport().getDetails());
        assertThat(all)
                .contains("FileChannel.open", "Files.createLink", "Files.newDirectoryStream", "Files.newInputStream");
        for (String reader : READERS_OF_THE_SYSTEM) {
            assertThat(noClasses()
                            .should(useAnotherDoorToTheDisk())
                            .evaluate(classes.that(JavaClass.Predicates.equivalentTo(
                                    classes.get(reader).reflect())))
                            .hasViolation())
                    .as("%s needs to be an exception", reader)
                    .isTrue();
        }
    }

    private static ArchCondition<JavaClass> useAnotherDoorToTheDisk() {
        return new ArchCondition<>("use another door to the disk") {
            @Override
            public void check(JavaClass user, ConditionEvents events) {
                user.getAccessesFromSelf().stream()
                        .filter(access -> isDoor(access.getTargetOwner().getName(), access.getTarget()))
                        .forEach(access -> events.add(SimpleConditionEvent.satisfied(user, access.getDescription())));
            }
        };
    }

    private static boolean isDoor(String owner, AccessTarget target) {
        String name = target.getName();
        return switch (owner) {
            case "java.nio.file.Files" -> !LOOKS.contains(name);
            case "java.nio.channels.FileChannel", "java.nio.channels.AsynchronousFileChannel" -> name.equals("open");
            case "java.nio.file.FileSystems" -> name.equals("newFileSystem");
            case "java.io.File" -> FILE_CHANGES.contains(name);
            case "java.lang.ProcessBuilder$Redirect" ->
                Set.of("from", "to", "appendTo").contains(name);
            default -> OPENERS.contains(owner) && isGivenAName(target);
        };
    }

    private static boolean isGivenAName(AccessTarget target) {
        return target instanceof AccessTarget.ConstructorCallTarget made
                && !made.getRawParameterTypes().isEmpty()
                && Set.of("java.io.File", "java.lang.String", "java.nio.file.Path")
                        .contains(made.getRawParameterTypes().get(0).getName());
    }
}
