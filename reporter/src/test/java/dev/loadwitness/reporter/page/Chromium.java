// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import java.io.File;
import java.io.IOException;
import java.io.InputStream;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.time.Duration;
import java.util.List;
import java.util.Map;
import java.util.logging.Level;
import org.openqa.selenium.OutputType;
import org.openqa.selenium.chrome.ChromeDriver;
import org.openqa.selenium.chrome.ChromeDriverService;
import org.openqa.selenium.chrome.ChromeOptions;
import org.openqa.selenium.logging.LogEntry;
import org.openqa.selenium.logging.LogType;
import org.openqa.selenium.logging.LoggingPreferences;

/** A headless Chromium of Debian (packages chromium and chromium-driver); a machine without it fails, never skips. */
final class Chromium implements AutoCloseable {
    private static final File DRIVER = new File("/usr/bin/chromedriver");
    private static final Duration PATIENCE = Duration.ofSeconds(30);

    final ChromeDriver driver;

    Chromium(Path profile) {
        LoggingPreferences logs = new LoggingPreferences();
        logs.enable(LogType.BROWSER, Level.ALL);
        logs.enable(LogType.PERFORMANCE, Level.ALL);
        ChromeOptions options = new ChromeOptions();
        options.setBinary("/usr/bin/chromium");
        options.addArguments(
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--disable-quic",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--window-size=1600,1200",
                "--user-data-dir=" + profile);
        options.setCapability("goog:loggingPrefs", logs);
        driver = new ChromeDriver(
                new ChromeDriverService.Builder()
                        .usingDriverExecutable(DRIVER)
                        .usingAnyFreePort()
                        .build(),
                options);
    }

    /** Opens a page and waits until its script has drawn. */
    void open(Path page) throws InterruptedException {
        driver.get(page.toUri().toString());
        waitUntil("return document.body.dataset.ready === 'yes'");
    }

    void waitUntil(String condition) throws InterruptedException {
        long until = System.nanoTime() + PATIENCE.toNanos();
        while (!Boolean.TRUE.equals(driver.executeScript(condition))) {
            if (System.nanoTime() > until) {
                throw new AssertionError("never came true: " + condition);
            }
            Thread.sleep(50);
        }
    }

    /** Lets what was asked for be drawn. */
    void settle() {
        driver.executeAsyncScript(
                "const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 0)))");
    }

    Object script(String text, Object... arguments) {
        return driver.executeScript(text, arguments);
    }

    double number(String text, Object... arguments) {
        return ((Number) driver.executeScript("return " + text, arguments)).doubleValue();
    }

    void emulate(String media, String scheme) {
        driver.executeCdpCommand(
                "Emulation.setEmulatedMedia",
                Map.of("media", media, "features", List.of(Map.of("name", "prefers-color-scheme", "value", scheme))));
    }

    void size(int width, int height) {
        driver.executeCdpCommand(
                "Emulation.setDeviceMetricsOverride",
                Map.of("width", width, "height", height, "deviceScaleFactor", 1, "mobile", false));
    }

    byte[] picture() {
        return driver.getScreenshotAs(OutputType.BYTES);
    }

    /** What the browser complained of since it was last asked: errors of scripts and breaches of the policy. */
    List<String> complaints() {
        return driver.manage().logs().get(LogType.BROWSER).getAll().stream()
                .filter(e -> e.getLevel().intValue() >= Level.WARNING.intValue())
                .map(LogEntry::getMessage)
                .toList();
    }

    /**
     * Addresses that were asked for since this was last asked, other than files, data within a page, and what the browser's own
     * start page takes out of the browser.
     */
    List<String> requests() {
        return driver.manage().logs().get(LogType.PERFORMANCE).getAll().stream()
                .map(LogEntry::getMessage)
                .filter(m -> m.contains("\"Network.requestWillBeSent\"") || m.contains("\"Network.webSocketCreated\""))
                .filter(m -> !m.matches(
                        "(?s).*\"request\":\\{[^{}]*(\\{[^{}]*\\}[^{}]*)*\"url\":\"(file|data|blob|chrome):.*"))
                .toList();
    }

    /** What axe-core finds wrong, one line for each rule. */
    @SuppressWarnings("unchecked") // the answer of a script is what the script says it is
    List<String> accessibility() throws IOException {
        try (InputStream in = Chromium.class.getResourceAsStream("/axe.min.js")) {
            driver.executeScript(new String(in.readAllBytes(), StandardCharsets.UTF_8));
        }
        return (List<String>) driver.executeAsyncScript("""
                const done = arguments[0];
                axe.run(document, { resultTypes: ['violations'] }).then(
                  (r) => done(r.violations.map((v) => v.impact + ' ' + v.id + ': ' + v.nodes.slice(0, 3).map(
                    (n) => n.html.slice(0, 160) + ' | ' + (n.any[0] || {}).message).join(' || '))),
                  (e) => done(['axe failed: ' + e]));
                """);
    }

    static Path save(Path folder, String name, String page) throws IOException {
        return Files.writeString(folder.resolve(name + ".html"), page, StandardCharsets.UTF_8);
    }

    @Override
    public void close() {
        driver.quit();
    }
}
