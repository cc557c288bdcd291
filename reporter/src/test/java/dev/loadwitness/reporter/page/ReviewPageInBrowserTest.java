// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.reporter.page;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.within;

import dev.loadwitness.reporter.scan.LogBuilder;
import java.io.ByteArrayInputStream;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.List;
import java.util.Map;
import java.util.Objects;
import javax.imageio.ImageIO;
import org.junit.jupiter.api.AfterAll;
import org.junit.jupiter.api.AfterEach;
import org.junit.jupiter.api.BeforeAll;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Tag;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;
import org.openqa.selenium.By;
import org.openqa.selenium.Keys;
import org.openqa.selenium.WebElement;
import org.openqa.selenium.interactions.Actions;

/** The page in a real browser: axe-core 4.11 judges its accessibility, the browser itself its policy and its requests. */
@Tag("browser")
final class ReviewPageInBrowserTest {
    @TempDir
    private static Path folder;

    private static Chromium browser;
    private static Path cut;
    private static Path hot;
    private static Path two;
    private static Path hostile;
    private static Path spikes;

    @BeforeAll
    static void start() throws IOException {
        cut = saved("cut", ReviewPageTest.sample("power-cut-restarted"));
        hot = saved("hot", ReviewPageTest.sample("bad-contact"));
        two = saved("two", ReviewPageTest.sample("power-cut-restarted"), ReviewPageTest.sample("rails-pass"));
        hostile = saved("hostile", ReviewPageTest.hostile().write(folder));
        spikes = saved("spikes", spikes());
        browser = new Chromium(Files.createDirectory(folder.resolve("profile")));
        browser.driver.manage().timeouts().scriptTimeout(java.time.Duration.ofSeconds(30));
    }

    private static Path saved(String name, Path... logs) throws IOException {
        return Chromium.save(folder, name, ReviewPageTest.page(logs));
    }

    /** Four hours at one a second; single samples stand out, three of them a minute before a gap, one beside a silence. */
    private static Path spikes() throws IOException {
        return LogBuilder.gpuSoak(14_370, "soak-duration", "mandatory: yes, at-least: 60 s")
                .curve("gpu.power", m -> m.seconds() % 4001 == 1236 ? 211 : m.seconds() % 3001 == 777 ? 3 : 140)
                .curve(
                        "gpu.temperature",
                        m -> m.seconds() == 9000 ? 99 : m.seconds() > 9000 && m.seconds() < 9600 ? Double.NaN : 72)
                .sampledWhen(m -> m.seconds() < 5000 || m.seconds() > 5600)
                .write(folder);
    }

    @AfterAll
    static void stop() {
        if (browser != null) {
            browser.close();
        }
    }

    @BeforeEach
    void light() {
        browser.emulate("screen", "light");
        browser.size(1600, 1200);
        browser.complaints();
        browser.requests();
    }

    @AfterEach
    void nothingWasComplainedOfAndNothingAskedFor() {
        assertThat(browser.complaints()).isEmpty();
        assertThat(browser.requests()).isEmpty();
    }

    @Test
    void aRunThatWasCutShortOpensOnItsLastMinute() throws Exception {
        browser.open(cut);
        assertThat(browser.number("review.view().from")).isCloseTo(1304 - 60, within(1.0));
        assertThat(browser.number("review.view().to")).isCloseTo(1304 + 4, within(1.0));
        assertThat(readout()).startsWith("20:4");
        click("[data-do=whole]");
        assertThat(browser.number("review.view().from")).isZero();
        assertThat(readout()).isEqualTo("0:00 to boot 2 0:01");
    }

    @Test
    void clickingAnEpisodeMovesTheChartsThereAndClickingAgainBack() throws Exception {
        browser.open(hot);
        double from = browser.number("review.view().from");
        double to = browser.number("review.view().to");
        WebElement episode = browser.driver.findElement(By.cssSelector(".moments .fault .jump"));
        double at = Double.parseDouble(Objects.requireNonNull(episode.getDomAttribute("data-from")));
        byte[] before = browser.picture();
        episode.click();
        browser.settle();
        assertThat(browser.number("review.view().from")).isLessThan(at).isGreaterThan(at - 120);
        assertThat(browser.number("review.view().to")).isGreaterThan(at).isLessThan(to);
        assertThat(browser.number("review.charts[0].u.scales.x.min")).isEqualTo(browser.number("review.view().from"));
        assertThat(episode.getDomAttribute("aria-current")).isEqualTo("true");
        assertThat(browser.picture()).isNotEqualTo(before);
        episode.click();
        browser.settle();
        assertThat(browser.number("review.view().from")).isEqualTo(from);
        assertThat(browser.number("review.view().to")).isEqualTo(to);
        assertThat(episode.getDomAttribute("aria-current")).isNull();
    }

    @Test
    void aCriterionLeadsToItsEvidence() throws Exception {
        browser.open(hot);
        WebElement peak = browser.driver.findElement(By.xpath("//button[contains(., 'peak 89.0')]"));
        peak.click();
        browser.settle();
        assertThat(browser.number("review.cursor()")).isCloseTo(96, within(1.0));
        assertThat(readout())
                .contains("1:36")
                .contains("2026-11-24 09:14:16 UTC")
                .contains("discrete-soak");
        assertThat(text("#chart-temperature .key .value")).isEqualTo("89");
    }

    @Test
    void oneCrosshairRunsThroughAllCharts() throws Exception {
        browser.open(hot);
        WebElement over = browser.driver.findElement(By.cssSelector("#chart-power .u-over"));
        new Actions(browser.driver).moveToElement(over, 40, 0).perform();
        browser.settle();
        List<?> places = (List<?>) browser.script("return review.charts.map((c) => Math.round(c.u.cursor.left))");
        assertThat(places).hasSizeGreaterThan(5).allMatch(p -> p.equals(places.get(0)));
        assertThat(((Number) places.get(0)).doubleValue()).isPositive();
        List<?> lefts = (List<?>)
                browser.script(
                        "return review.charts.map((c) => Math.round(c.u.over.getBoundingClientRect().left) + ' ' + Math.round(c.u.over.getBoundingClientRect().width))");
        assertThat(lefts).as("the charts stand under each other").allMatch(p -> p.equals(lefts.get(0)));
    }

    @Test
    void everythingCanBeDoneFromTheKeyboard() throws Exception {
        browser.open(hot);
        WebElement body = browser.driver.findElement(By.tagName("body"));
        body.sendKeys(Keys.TAB);
        assertThat(browser.script("return document.activeElement.textContent")).isEqualTo("Skip to the charts");
        assertThat((Boolean) browser.script("return document.activeElement.getBoundingClientRect().top >= 0"))
                .as("the focused skip link is seen")
                .isTrue();
        browser.driver.switchTo().activeElement().sendKeys(Keys.ENTER);
        browser.script("document.getElementById('charts').focus()");
        WebElement charts = browser.driver.switchTo().activeElement();
        assertThat(browser.script("return getComputedStyle(document.activeElement).outlineStyle"))
                .isEqualTo("solid");
        charts.sendKeys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT);
        browser.settle();
        double first = browser.number("review.cursor()");
        charts.sendKeys(Keys.chord(Keys.SHIFT, Keys.ARROW_RIGHT));
        browser.settle();
        assertThat(browser.number("review.cursor()")).isGreaterThan(first + 10);
        assertThat(text("#spoken")).contains("Discrete GPU").contains("UTC");
        charts.sendKeys("+", "+");
        browser.settle();
        double length = browser.number("review.view().to - review.view().from");
        assertThat(length).isCloseTo(browser.number("(review.whole().to - review.whole().from) / 4"), within(1e-6));
        charts.sendKeys(Keys.PAGE_DOWN);
        browser.settle();
        assertThat(browser.number("review.view().from")).isGreaterThan(length / 4);
        charts.sendKeys("-", "0", "b");
        browser.settle();
        // From the list, too: every entry is a button that Tab reaches.
        WebElement episode = browser.driver.findElement(By.cssSelector(".moments .fault .jump"));
        browser.script("arguments[0].focus()", episode);
        assertThat(browser.script("return document.activeElement === arguments[0]", episode))
                .isEqualTo(true);
        browser.driver.switchTo().activeElement().sendKeys(Keys.ENTER);
        browser.settle();
        assertThat(episode.getDomAttribute("aria-current")).isEqualTo("true");
    }

    @Test
    void aLogThatWantsToBeMarkupIsText() throws Exception {
        browser.open(hostile);
        assertThat(browser.script("return document.querySelectorAll('img').length + document.scripts.length"))
                .isEqualTo(3L);
        assertThat(text("header .facts dd")).startsWith("FBR⟨U+202E⟩2410 </script><script>alert(1)</script><img");
        assertThat(
                        (Boolean)
                                browser.script(
                                        "return [...document.querySelectorAll('.key')].some((k) => k.title.includes('<img src=x onerror=alert(1)>'))"))
                .isTrue();
        assertThat((Boolean) browser.script(
                        "return /[\\u202a-\\u202e\\u2066-\\u2069]/.test(document.documentElement.innerHTML)"))
                .isFalse();
    }

    @Test
    void thePolicyStopsScriptThatIsNotOfThePage() throws Exception {
        browser.open(cut);
        browser.script(
                "const s = document.createElement('script'); s.textContent = 'window.got = 1'; document.body.append(s)");
        browser.script(
                "const d = document.createElement('div'); d.innerHTML = '<img src=\"data:,x\" onerror=\"window.got = 2\">'; document.body.append(d)");
        browser.settle();
        Thread.sleep(100);
        assertThat(browser.script("return window.got || 0")).isEqualTo(0L);
        assertThat(browser.complaints())
                .hasSizeGreaterThanOrEqualTo(2)
                .allMatch(c -> c.contains("Content Security Policy"));
    }

    /** Else the check after each test could not fail. */
    @Test
    void theWatchOnRequestsSeesOne() throws Exception {
        browser.driver.get(
                Chromium.save(folder, "asks", "<!DOCTYPE html><title>asks</title><img src=\"http://127.0.0.1:9/x\">")
                        .toUri()
                        .toString());
        browser.settle();
        assertThat(browser.requests()).hasSize(1);
        assertThat(browser.complaints()).isNotEmpty();
    }

    /** Random data, random views: computed again from the raw numbers, apart from the page's own pyramid. */
    @Test
    void everyExtremeOfTheRawDataIsInTheDrawingAtEveryZoom() throws Exception {
        browser.open(cut);
        Object wrong = browser.script("""
                let seed = 20261125;
                const random = () => (seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0) / 4294967296;
                const wrong = [];
                for (let round = 0; round < 80; round++) {
                  const n = 1 + Math.floor(random() * (round % 10 ? 6000 : 200000));
                  const times = new Float64Array(n), values = new Float32Array(n);
                  let t = 0;
                  for (let i = 0; i < n; i++) {
                    t += 0.5 + random();
                    times[i] = t;
                    values[i] = random() < 0.03 ? NaN : Math.fround(random());
                  }
                  for (let k = 0; k < 5; k++) values[Math.floor(random() * n)] = Math.fround((random() < 0.5 ? -1 : 1) * (5 + random()));
                  const piece = { times }, column = { values, late: 5 };
                  for (let zoom = 0; zoom < 12; zoom++) {
                    let a = random() * t, b = random() * t;
                    if (zoom === 0) { a = 0; b = t; }
                    if (a > b) [a, b] = [b, a];
                    const columns = 50 + Math.floor(random() * 1200);
                    let low = Infinity, high = -Infinity;
                    for (let i = 0; i < n; i++) {
                      if (times[i] < a || times[i] > b || values[i] !== values[i]) continue;
                      low = Math.min(low, values[i]);
                      high = Math.max(high, values[i]);
                    }
                    const r = review.range(piece, a, b, columns);
                    const x = [], y = [];
                    review.timesOf(piece, r, 0, x);
                    review.valuesOf(column, r, 1, 0, y, x);
                    if (x.length !== y.length) wrong.push('lengths ' + x.length + ' ' + y.length);
                    if (low <= high && !(y.includes(low) && y.includes(high))) wrong.push([round, zoom, n, columns, r.size, low, high].join(' '));
                    if (y.length > 4 * columns + 8) wrong.push('too many points: ' + y.length + ' for ' + columns);
                    for (let i = 1; i < x.length; i++) if (x[i] < x[i - 1]) { wrong.push('times run backwards'); break; }
                  }
                }
                return wrong.slice(0, 5);
                """);
        assertThat((List<?>) wrong).isEmpty();
    }

    @Test
    void aSpikeOfOneSampleIsInTheDrawingOfARealLog() throws Exception {
        browser.open(spikes);
        Object wrong = browser.script("""
                const power = review.charts.find((c) => c.key === 'power');
                const line = power.lines.findIndex((l) => l.channel.id === 'gpu.power') + 1;
                const wrong = [];
                const whole = review.whole();
                for (let k = 0; k < 40; k++) {
                  const length = (whole.to - whole.from) / Math.pow(1.25, k % 20);
                  const from = (whole.to - whole.from - length) * ((k * 7) % 20) / 20;
                  review.show(from, from + length);
                  power.draw();
                  const seen = power.drawn[line];
                  for (let t = Math.ceil(from); t <= from + length; t++) {
                    if (t >= 5000 && t <= 5600) continue;
                    if (t % 4001 === 1236 && !seen.includes(211)) wrong.push(t + ' high at ' + from + '+' + length);
                    if (t % 3001 === 777 && t % 4001 !== 1236 && !seen.includes(3)) wrong.push(t + ' low at ' + from + '+' + length);
                  }
                }
                return wrong.slice(0, 5);
                """);
        assertThat((List<?>) wrong).isEmpty();
    }

    @Test
    void whereNothingWasReadTheLineIsBroken() throws Exception {
        browser.open(spikes);
        String holes = """
                const chart = review.charts.find((c) => c.key === arguments[0]);
                const x = chart.drawn[0], y = chart.drawn[chart.lines.findIndex((l) => l.channel.id === arguments[1]) + 1];
                return x.filter((t, i) => y[i] === null && t > arguments[2] && t < arguments[3]).length;
                """;
        assertThat((Long) browser.script(holes, "power", "gpu.power", 4999, 5601))
                .as("no samples")
                .isPositive();
        assertThat((Long) browser.script(holes, "power", "gpu.power", 6000, 9000))
                .as("readings")
                .isZero();
        assertThat((Long) browser.script(holes, "temperature", "gpu.temperature", 9001, 9599))
                .as("silence")
                .isPositive();
        browser.open(cut);
        click("[data-do=whole]");
        assertThat(
                        (Long)
                                browser.script(
                                        "const c = review.charts[0]; return c.drawn[0].filter((t) => t > 1304.1 && t < review.runs[0].spans[1].from).length"))
                .as("nothing lies between two boots")
                .isZero();
    }

    @Test
    void twoRunsLieOverEachOtherAndCanBeAlignedByStage() throws Exception {
        browser.open(two);
        assertThat(browser.number("review.runs.length")).isEqualTo(2);
        assertThat(text("#chart-power .key:first-child")).startsWith("A");
        List<?> stages =
                (List<?>) browser.script("return [...document.querySelectorAll('#align option')].map((o) => o.value)");
        assertThat(stages).hasSizeGreaterThan(1);
        String stage = (String) stages.get(stages.size() - 1);
        browser.script(
                "const s = document.getElementById('align'); s.value = arguments[0]; s.dispatchEvent(new Event('change'))",
                stage);
        browser.settle();
        assertThat(browser.number(
                        "((id) => { const [a, b] = review.runs.map((r) => { const s = r.stages.find((x) => x.id === id);"
                                + " return r.spans[s.segment].from + s.from + r.shift; }); return a - b; })(arguments[0])",
                        stage))
                .isCloseTo(0, within(1e-9));
    }

    @Test
    void anAccessibilityCheckFindsNothingInLightAndDark() throws Exception {
        browser.open(two);
        assertThat(browser.accessibility()).as("light, two runs").isEmpty();
        browser.emulate("screen", "dark");
        browser.open(hot);
        browser.script("document.querySelectorAll('details').forEach((d) => d.open = true)");
        click("[data-all]");
        assertThat(browser.accessibility()).as("dark").isEmpty();
        browser.size(700, 1200);
        browser.open(cut);
        assertThat(browser.accessibility()).as("narrow").isEmpty();
        assertThat((Boolean) browser.script("return document.documentElement.scrollWidth <= innerWidth"))
                .as("no sideways scrolling")
                .isTrue();
    }

    @Test
    void theChartsAreDrawnInInkThatIsNotTheGround() throws Exception {
        browser.open(hot);
        int[] light = colours();
        browser.emulate("screen", "dark");
        browser.open(hot);
        int[] dark = colours();
        assertThat(light[0]).as("ground, light").isGreaterThan(240);
        assertThat(dark[0]).as("ground, dark").isLessThan(50);
        assertThat(light[1]).as("kinds of colour in the light picture").isGreaterThan(50);
        assertThat(dark[1]).as("kinds of colour in the dark picture").isGreaterThan(50);
    }

    /** Brightness of the page's edge, and how many colours the first chart has. */
    private static int[] colours() throws IOException {
        var image = ImageIO.read(new ByteArrayInputStream(browser.picture()));
        java.util.Set<Integer> kinds = new java.util.HashSet<>();
        for (int y = 250; y < 420; y++) {
            for (int x = 90; x < 900; x++) {
                kinds.add(image.getRGB(x, y));
            }
        }
        return new int[] {image.getRGB(3, 700) & 0xFF, kinds.size()};
    }

    @Test
    void printedItIsLightAndNothingIsCutOff() throws Exception {
        browser.emulate("print", "dark");
        browser.open(hot);
        assertThat(browser.script("return getComputedStyle(document.querySelector('.bar button')).display"))
                .isEqualTo("none");
        assertThat(browser.script("return getComputedStyle(document.body).backgroundColor"))
                .isEqualTo("rgb(255, 255, 255)");
        Map<String, Object> pdf = browser.driver.executeCdpCommand("Page.printToPDF", Map.of("printBackground", true));
        assertThat((String) pdf.get("data")).hasSizeGreaterThan(50_000);
    }

    private static void click(String selector) {
        browser.driver.findElement(By.cssSelector(selector)).click();
        browser.settle();
    }

    private static String readout() {
        return text("#readout");
    }

    private static String text(String selector) {
        return String.valueOf(browser.script("return document.querySelector(arguments[0]).textContent", selector));
    }
}
