// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent;

import static com.tngtech.archunit.lang.syntax.ArchRuleDefinition.noClasses;
import static com.tngtech.archunit.library.dependencies.SlicesRuleDefinition.slices;

import com.tngtech.archunit.core.importer.ImportOption;
import com.tngtech.archunit.junit.AnalyzeClasses;
import com.tngtech.archunit.junit.ArchTest;
import com.tngtech.archunit.lang.ArchRule;

/** The map of DEVELOPERS.md, held by the build. */
@AnalyzeClasses(packages = "dev.loadwitness", importOptions = ImportOption.DoNotIncludeTests.class)
final class MapTest {
    @ArchTest
    static final ArchRule agentDoesNotKnowTheReporter = noClasses()
            .that()
            .resideInAPackage("dev.loadwitness.agent..")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("dev.loadwitness.reporter..")
            .because("what runs on the repaired machine records facts and judges nothing");

    @ArchTest
    static final ArchRule oshiStaysInItsProcess = noClasses()
            .that()
            .doNotHaveFullyQualifiedName("dev.loadwitness.agent.sensor.common.OshiWorker")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("oshi..")
            .because("it starts programs by name, which only a process whose search path leads nowhere may do");

    @ArchTest
    static final ArchRule jacksonStaysInItsRooms = noClasses()
            .that()
            .resideOutsideOfPackages("..runlog.file..", "..runlog.yaml..", "..agent.probe..", "..agent.command..")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("com.fasterxml.jackson..")
            .because("only the format's owners and the probe's own JSON need it");

    @ArchTest
    static final ArchRule loadsKnowNoSensorsAndSensorsNoLoads = noClasses()
            .that()
            .resideInAPackage("..agent.sensor..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("..agent.load..", "..agent.run..");

    @ArchTest
    static final ArchRule whatBecomesOfARunIsDecidedByItsLogAlone = noClasses()
            .that()
            .resideInAPackage("..agent.resume..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("..agent.sensor..", "..agent.load..", "..agent.evidence..")
            .because("no device may be touched before the record of a start is on the disk");

    @ArchTest
    static final ArchRule loadsKnowNothingButLoads = noClasses()
            .that()
            .resideInAPackage("..agent.load..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("..agent.sensor..", "..agent.run..", "oshi..")
            .because("a worker process starts with as little as it can");

    @ArchTest
    static final ArchRule evidenceTouchesNoDriver = noClasses()
            .that()
            .resideInAPackage("..agent.evidence..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("..agent.sensor..", "..agent.load..", "..agent.run..", "com.sun.jna..")
            .because("asking the driver that ended the last boot would end this one");

    @ArchTest
    static final ArchRule processesAreStartedInOneRoom = noClasses()
            .that()
            .resideOutsideOfPackage("..agent.process..")
            .should()
            .dependOnClassesThat()
            .haveFullyQualifiedName("java.lang.ProcessBuilder")
            .because("whatever is started has an environment made here");

    @ArchTest
    static final ArchRule concreteSensorsAreNamedInOneRoom = noClasses()
            .that()
            .resideOutsideOfPackages(
                    "..agent.machine..", "..agent.sensor.linux..", "..agent.sensor.gpu..", "..agent.evidence.linux..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("..agent.sensor.linux..", "..agent.sensor.gpu..", "..agent.evidence.linux..")
            .because("another system has other ones");

    @ArchTest
    static final ArchRule noCycles =
            slices().matching("dev.loadwitness.agent.(**)").should().beFreeOfCycles();
}
