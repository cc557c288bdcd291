// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.runlog;

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
    static final ArchRule theSharedLanguageKnowsNeitherProgram = noClasses()
            .that()
            .resideInAPackage("dev.loadwitness.runlog..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("dev.loadwitness.agent..", "dev.loadwitness.reporter..");

    @ArchTest
    static final ArchRule jacksonStaysInItsRooms = noClasses()
            .that()
            .resideOutsideOfPackages("..runlog.file..", "..runlog.yaml..")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("com.fasterxml.jackson..")
            .because("the words of a run do not depend on how they are written down");

    @ArchTest
    static final ArchRule wordsKnowNothingOfFiles = noClasses()
            .that()
            .resideInAPackage("dev.loadwitness.runlog")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("..runlog.file..", "..runlog.yaml..", "..runlog.procedure..", "..runlog.jobsheet..");

    @ArchTest
    static final ArchRule endingsAreToldFromFactsAlone = noClasses()
            .that()
            .resideInAPackage("..runlog.ending..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("..runlog.file..", "..runlog.yaml..", "..runlog.procedure..", "..runlog.jobsheet..");

    @ArchTest
    static final ArchRule noCycles =
            slices().matching("dev.loadwitness.runlog.(*)..").should().beFreeOfCycles();
}
