// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter;

import static com.tngtech.archunit.lang.syntax.ArchRuleDefinition.noClasses;
import static com.tngtech.archunit.library.Architectures.layeredArchitecture;
import static com.tngtech.archunit.library.dependencies.SlicesRuleDefinition.slices;

import com.tngtech.archunit.core.importer.ImportOption;
import com.tngtech.archunit.junit.AnalyzeClasses;
import com.tngtech.archunit.junit.ArchTest;
import com.tngtech.archunit.lang.ArchRule;

/** The map of DEVELOPERS.md, held by the build. */
@AnalyzeClasses(packages = "dev.loadwitness", importOptions = ImportOption.DoNotIncludeTests.class)
final class MapTest {
    @ArchTest
    static final ArchRule reporterDoesNotKnowTheAgent = noClasses()
            .that()
            .resideInAPackage("dev.loadwitness.reporter..")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("dev.loadwitness.agent..")
            .because("a log must be readable where no agent was ever installed");

    @ArchTest
    static final ArchRule arrowsRunFromUserToUsed = layeredArchitecture()
            .consideringOnlyDependenciesInAnyPackage("dev.loadwitness.reporter..")
            .layer("main")
            .definedBy("dev.loadwitness.reporter")
            .layer("layouts")
            .definedBy(
                    "dev.loadwitness.reporter.pdf..",
                    "dev.loadwitness.reporter.page..",
                    "dev.loadwitness.reporter.text..")
            .layer("charts")
            .definedBy("dev.loadwitness.reporter.chart..")
            .layer("verdict")
            .definedBy("dev.loadwitness.reporter.verdict..")
            .layer("side by side")
            .definedBy("dev.loadwitness.reporter.comparison..", "dev.loadwitness.reporter.baseline..")
            .layer("criteria")
            .definedBy("dev.loadwitness.reporter.criteria..")
            .layer("findings")
            .definedBy("dev.loadwitness.reporter.finding..")
            .layer("plan")
            .definedBy("dev.loadwitness.reporter.plan..")
            .layer("scan")
            .definedBy("dev.loadwitness.reporter.scan..")
            .layer("statistics")
            .definedBy("dev.loadwitness.reporter.statistics..")
            .layer("signature")
            .definedBy("dev.loadwitness.reporter.signature..")
            .whereLayer("main")
            .mayNotBeAccessedByAnyLayer()
            .whereLayer("layouts")
            .mayOnlyBeAccessedByLayers("main")
            .whereLayer("charts")
            .mayOnlyBeAccessedByLayers("layouts")
            .whereLayer("verdict")
            .mayOnlyBeAccessedByLayers("main", "layouts")
            .whereLayer("side by side")
            .mayOnlyBeAccessedByLayers("main", "layouts")
            .whereLayer("criteria")
            .mayOnlyBeAccessedByLayers("main", "layouts", "verdict", "side by side")
            .whereLayer("findings")
            .mayOnlyBeAccessedByLayers("main", "layouts", "verdict", "side by side", "criteria")
            .whereLayer("plan")
            .mayOnlyBeAccessedByLayers("main", "layouts")
            .whereLayer("scan")
            .mayOnlyBeAccessedByLayers("main", "layouts", "verdict", "side by side", "criteria", "findings")
            .whereLayer("signature")
            .mayOnlyBeAccessedByLayers("main")
            .because("the map in DEVELOPERS.md says so");

    @ArchTest
    static final ArchRule statisticsHasNeverHeardOfSensorsOrLogs = noClasses()
            .that()
            .resideInAPackage("..reporter.statistics..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage(
                    "dev.loadwitness.runlog..", "..reporter.scan..", "..reporter.finding..", "..reporter.criteria..")
            .because("mathematics is tested against published tables, which know nothing of laptops");

    @ArchTest
    static final ArchRule signatureSeesBytesNeverVerdicts = noClasses()
            .that()
            .resideInAPackage("..reporter.signature..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage(
                    "dev.loadwitness.runlog",
                    "..runlog.file..",
                    "..reporter.verdict..",
                    "..reporter.finding..",
                    "..reporter.criteria..")
            .because("what is signed is finished bytes");

    @ArchTest
    static final ArchRule pdfLibraryStaysInItsRooms = noClasses()
            .that()
            .resideOutsideOfPackages("..reporter.pdf..", "..reporter.signature..")
            .should()
            .dependOnClassesThat()
            .resideInAnyPackage("com.lowagie..", "org.openpdf..", "org.jfree..")
            .because("OpenPDF and JFreeChart are details of one layout");

    @ArchTest
    static final ArchRule templatesStayInTheirRoom = noClasses()
            .that()
            .resideOutsideOfPackage("..reporter.page..")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("gg.jte..");

    @ArchTest
    static final ArchRule cryptographyStaysInItsRoom = noClasses()
            .that()
            .resideOutsideOfPackage("..reporter.signature..")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("org.bouncycastle..");

    @ArchTest
    static final ArchRule jacksonStaysInItsRooms = noClasses()
            .that()
            .resideOutsideOfPackages(
                    "..runlog.file..",
                    "..runlog.yaml..",
                    "..reporter.text..",
                    "..reporter.page..",
                    "..reporter.baseline..")
            .should()
            .dependOnClassesThat()
            .resideInAPackage("com.fasterxml.jackson..")
            .because("the format on disk is the business of the packages that own it");

    @ArchTest
    static final ArchRule noCycles =
            slices().matching("dev.loadwitness.reporter.(**)").should().beFreeOfCycles();
}
