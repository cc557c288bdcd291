// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux.device;

import static org.assertj.core.api.Assertions.assertThat;
import static org.assertj.core.api.Assertions.assertThatThrownBy;

import dev.loadwitness.agent.sensor.SensorFact;
import dev.loadwitness.agent.sensor.linux.LinuxSensors;
import dev.loadwitness.agent.sensor.linux.file.Tree;
import java.io.IOException;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.Comparator;
import java.util.List;
import java.util.concurrent.TimeUnit;
import java.util.stream.Stream;
import org.junit.jupiter.api.BeforeEach;
import org.junit.jupiter.api.Test;
import org.junit.jupiter.api.io.TempDir;

/** A laptop with its keyboard on the keyboard controller, wireless and a disk on PCI, a stick and a hub on USB. */
final class DeviceWatchTest {
    private static final String USB = "sys/devices/pci0000:00/0000:00:14.0/usb1";
    private static final String SERIO = "sys/devices/platform/i8042/serio0/input/input3";
    private static final String KEYS = "402000000 3803078f800d001 feffffdfffefffff fffffffffffffffe";

    @TempDir
    Path root;

    private Tree tree;
    private long nanos;

    @BeforeEach
    void laptop() {
        tree = new Tree(root);
        pci("0000:00:14.0", "0x0c0330", "0x8086", "0xa0ed");
        pci("0000:01:00.0", "0x030000", "0x10de", "0x2520");
        pci("0000:02:00.0", "0x010802", "0x144d", "0xa80a");
        pci("0000:03:00.0", "0x028000", "0x8086", "0x2725");
        tree.file(USB + "/version", " 2.00");
        tree.link("sys/bus/usb/devices/usb1", USB);
        usb("1-4", "7", "Fernhollow", "Data stick", "08", "50", "removable");
        usb("1-5", "3", "", "USB2.0 Hub", "09", "00", "fixed");
        input(SERIO, "AT Translated Set 2 keyboard", "isa0060/serio0/input0", KEYS);
        input("sys/devices/LNXSYSTM:00/input/input0", "Power Button", "LNXPWRBN/button/input0", "10000000000000 0");
        String disk = "sys/devices/pci0000:00/0000:02:00.0/nvme/nvme0/nvme0n1";
        tree.file(disk + "/removable", "0").file(disk + "/device/model", "Kestrel 1TB");
        tree.link("sys/block/nvme0n1", disk);
        String loop = "sys/devices/virtual/block/loop0";
        tree.file(loop + "/removable", "0");
        tree.link("sys/block/loop0", loop);
    }

    private void pci(String address, String pciClass, String vendor, String number) {
        tree.pci("pci0000:00/" + address, pciClass, vendor, number);
        tree.link("sys/bus/pci/devices/" + address, "sys/devices/pci0000:00/" + address);
    }

    private void usb(
            String port, String number, String maker, String product, String usbClass, String protocol, String fixed) {
        String folder = USB + "/" + port;
        tree.file(folder + "/devnum", number)
                .file(folder + "/product", product)
                .file(folder + "/serial", "SECRET-4711")
                .file(folder + "/removable", fixed)
                .file(folder + "/bDeviceClass", "00")
                .file(folder + "/" + port + ":1.0/bInterfaceClass", usbClass)
                .file(folder + "/" + port + ":1.0/bInterfaceProtocol", protocol);
        if (!maker.isEmpty()) {
            tree.file(folder + "/manufacturer", maker);
        }
        link(port, folder);
    }

    private void link(String port, String folder) {
        if (!Files.exists(root.resolve("sys/bus/usb/devices/" + port))) {
            tree.link("sys/bus/usb/devices/" + port, folder);
        }
    }

    private void input(String folder, String name, String place, String keys) {
        tree.file(folder + "/name", name).file(folder + "/phys", place).file(folder + "/capabilities/key", keys);
        tree.link("sys/class/input/" + Path.of(folder).getFileName(), folder);
    }

    private DeviceWatch watch(Path... own) {
        return new DeviceWatch(
                new BusDevices(root, List.of(own), text -> text.replace("Data stick", "(withheld)")), () -> nanos);
    }

    private List<SensorFact.Noticed> look(DeviceWatch watch) throws IOException {
        watch.read(new double[0], 0);
        nanos += TimeUnit.SECONDS.toNanos(5);
        List<SensorFact.Noticed> seen = new ArrayList<>();
        watch.takeFacts().forEach(f -> seen.add((SensorFact.Noticed) f));
        return seen;
    }

    private static List<String> words(List<SensorFact.Noticed> seen) {
        return seen.stream()
                .map(f -> f.kind().word() + " " + f.facts().get("role") + " "
                        + f.facts().get("device"))
                .toList();
    }

    private void delete(String path) throws IOException {
        try (Stream<Path> all = Files.walk(root.resolve(path))) {
            for (Path p : all.sorted(Comparator.reverseOrder()).toList()) {
                Files.delete(p);
            }
        }
    }

    @Test
    void whatIsThereAtTheStartIsToldWithoutBridgesHubsAndButtons() throws IOException {
        List<SensorFact.Noticed> seen = look(watch());
        assertThat(words(seen))
                .containsExactlyInAnyOrder(
                        "device-present storage storage: Fernhollow (withheld)",
                        "device-present gpu-discrete gpu-discrete: 10de:2520 at 0000:01:00.0",
                        "device-present storage storage controller: 144d:a80a at 0000:02:00.0",
                        "device-present network wireless network: 8086:2725 at 0000:03:00.0",
                        "device-present storage disk: Kestrel 1TB",
                        "device-present input keyboard: AT Translated Set 2 keyboard");
        assertThat(seen.toString()).doesNotContain("SECRET");
        assertThat(seen.get(0).facts())
                .containsEntry("id", "usb-0000:00:14.0-4")
                .containsEntry("removable", true)
                .doesNotContainKey("witness");
    }

    @Test
    void aKeyboardThatDropsOutIsNamedAndSoIsItsReturn() throws IOException {
        DeviceWatch watch = watch();
        look(watch);
        assertThat(look(watch)).isEmpty();
        delete("sys/class/input/input3");
        assertThat(words(look(watch))).containsExactly("device-left input keyboard: AT Translated Set 2 keyboard");
        tree.link("sys/class/input/input3", SERIO);
        assertThat(words(look(watch))).containsExactly("device-arrived input keyboard: AT Translated Set 2 keyboard");
    }

    @Test
    void whatLeavesAndComesBackBetweenTwoLooksIsSeenByItsNewNumber() throws IOException {
        DeviceWatch watch = watch();
        look(watch);
        tree.file(USB + "/1-4/devnum", "8");
        assertThat(look(watch)).extracting(f -> f.kind().word()).containsExactly("device-left", "device-arrived");
        assertThat(look(watch)).isEmpty();
    }

    @Test
    void othersAreToldOnlyWhenTheyLeaveOrCome() throws IOException {
        DeviceWatch watch = watch();
        look(watch);
        delete("sys/bus/usb/devices/1-5");
        assertThat(words(look(watch))).containsExactly("device-left board hub: USB2.0 Hub");
        usb("1-6", "9", "Alder Works", "Alder Works Keyboard", "03", "01", "unknown");
        assertThat(words(look(watch))).containsExactly("device-arrived input keyboard: Alder Works Keyboard");
    }

    @Test
    void theStickThatHoldsTheLogIsMarkedAndTheMachinesOwnDiskIsNot() throws IOException {
        String stick = USB + "/1-4/1-4:1.0/host0/block/sda/sda1";
        tree.mkdir(stick);
        Path disk = root.resolve("sys/devices/pci0000:00/0000:02:00.0/nvme/nvme0/nvme0n1")
                .toRealPath();
        List<Object> marked = look(watch(root.resolve(stick).toRealPath(), disk)).stream()
                .filter(f -> f.facts().containsKey("witness"))
                .map(f -> f.facts().get("id"))
                .toList();
        assertThat(marked).containsExactly("usb-0000:00:14.0-4");
    }

    @Test
    void theDiskOfAFileIsFoundByItsNumberAlsoBelowAnEncryptedOne() throws IOException {
        Object device = Files.getAttribute(root, "unix:dev");
        String number = OwnDisks.number(((Number) device).longValue());
        tree.mkdir("sys/devices/virtual/block/dm-0/slaves");
        tree.mkdir("sys/devices/disk/sdb1");
        tree.link("sys/dev/block/" + number, "sys/devices/virtual/block/dm-0");
        tree.link("sys/devices/virtual/block/dm-0/slaves/sdb1", "sys/devices/disk/sdb1");
        assertThat(OwnDisks.of(root, List.of(root, root.resolve("not-there"))))
                .extracting(p -> p.getFileName().toString())
                .containsExactly("dm-0", "sdb1");
    }

    /** {@code makedev(259, 3)} and {@code makedev(4097, 300)} of glibc 2.36. */
    @Test
    void aDevicesNumberIsSplitAsTheSystemsLibraryDoes() {
        assertThat(OwnDisks.number(0x10303L)).isEqualTo("259:3");
        assertThat(OwnDisks.number(0x10000010012cL)).isEqualTo("4097:300");
    }

    @Test
    void aBusThatCannotBeListedIsNoDeviceLost() throws IOException {
        DeviceWatch watch = watch();
        look(watch);
        delete("sys/bus/usb/devices");
        assertThatThrownBy(() -> watch.read(new double[0], 0)).isInstanceOf(IOException.class);
        assertThat(watch.takeFacts()).isEmpty();
    }

    @Test
    void itLooksEveryFiveSecondsHoweverOftenItIsAsked() throws IOException {
        DeviceWatch watch = watch();
        look(watch);
        delete("sys/class/input/input3");
        nanos -= TimeUnit.SECONDS.toNanos(1);
        watch.read(new double[0], 0);
        assertThat(watch.takeFacts()).isEmpty();
        nanos += TimeUnit.SECONDS.toNanos(1);
        watch.read(new double[0], 0);
        assertThat(watch.takeFacts()).hasSize(1);
    }

    @Test
    void aMachineWithoutBusesSaysThatNothingIsWatched() {
        assertThat(LinuxSensors.devices(root.resolve("nowhere"), List.of(), text -> text)
                        .missing())
                .singleElement()
                .satisfies(m -> assertThat(m.what()).isEqualTo("devices on the buses"));
    }
}
