// SPDX-License-Identifier: Apache-2.0
package dev.loadwitness.agent.sensor.linux;

import dev.loadwitness.agent.sensor.linux.file.Tree;

/** A made-up gaming laptop with about sixty channels: eight cores of two threads, two GPUs, two disks, a battery. */
final class FullLaptop {
    private FullLaptop() {}

    static void build(Tree tree) {
        String[] cpu = new String[4 + 8 * 4];
        cpu[0] = "temp1_input";
        cpu[1] = "71000";
        cpu[2] = "temp1_label";
        cpu[3] = "Package id 0";
        for (int core = 0; core < 8; core++) {
            cpu[4 + core * 4] = "temp" + (core + 2) + "_input";
            cpu[5 + core * 4] = (60 + core) + "000";
            cpu[6 + core * 4] = "temp" + (core + 2) + "_label";
            cpu[7 + core * 4] = "Core " + core;
        }
        tree.hwmon(0, "platform/coretemp.0", "coretemp", cpu);
        for (int thread = 0; thread < 16; thread++) {
            tree.cpu(thread, 0, thread % 8, "4", "2", "350", "120");
            String policy = "sys/devices/system/cpu/cpufreq/policy" + thread;
            tree.file(policy + "/scaling_cur_freq", "3900123").file(policy + "/affected_cpus", "" + thread);
        }
        gpu(tree, 1, "pci0000:00/0000:00:01.0/0000:01:00.0");
        gpu(tree, 2, "pci0000:00/0000:00:02.0");
        for (int disk = 0; disk < 2; disk++) {
            tree.hwmon(
                    3 + disk,
                    "pci0000:00/0000:00:1d." + disk + "/0000:0" + (3 + disk) + ":00.0/nvme/nvme" + disk,
                    "nvme",
                    "temp1_input",
                    "41850",
                    "temp1_label",
                    "Composite",
                    "temp2_input",
                    "45850",
                    "temp2_label",
                    "Sensor 1");
        }
        tree.hwmon(
                5,
                "platform/ec",
                "some_ec",
                "fan1_input",
                "3900",
                "fan2_input",
                "4100",
                "temp1_input",
                "61000",
                "temp2_input",
                "52000",
                "temp3_input",
                "47000",
                "temp5_input",
                "51000",
                "temp6_input",
                "50000",
                "temp7_input",
                "49000",
                "temp4_input",
                "43000");
        tree.hwmon(6, "virtual/thermal/thermal_zone0", "acpitz", "temp1_input", "27800");
        tree.hwmon(7, "virtual/thermal/thermal_zone3", "iwlwifi_1", "temp1_input", "48000");
        for (String zone : new String[] {":0=package-0", ":0:0=core", ":0:1=uncore", ":1=psys"}) {
            String[] parts = zone.split("=", -1);
            String folder = "sys/class/powercap/intel-rapl" + parts[0];
            tree.file(folder + "/name", parts[1])
                    .file(folder + "/max_energy_range_uj", "262143328850")
                    .file(folder + "/energy_uj", "91234567890");
        }
        tree.file("proc/stat", "cpu  10132153 290696 3084719 46828483 16683 0 25195 0 175628 0");
        tree.supply("AC0", "type", "Mains", "online", "1");
        tree.supply(
                "BAT0",
                "type",
                "Battery",
                "status",
                "Charging",
                "power_now",
                "30000000",
                "energy_now",
                "60000000",
                "energy_full",
                "80000000",
                "voltage_now",
                "15400000",
                "temp",
                "312");
    }

    private static void gpu(Tree tree, int number, String device) {
        tree.pci(device, "0x030000", "0x1002", "0x73df");
        tree.file("sys/devices/" + device + "/gpu_busy_percent", "97");
        tree.file("sys/devices/" + device + "/power/runtime_status", "active");
        tree.hwmon(
                number,
                device,
                "amdgpu",
                "temp1_input",
                "71000",
                "temp1_label",
                "edge",
                "temp2_input",
                "84000",
                "temp2_label",
                "junction",
                "temp3_input",
                "80000",
                "temp3_label",
                "mem",
                "freq1_input",
                "2205000000",
                "freq1_label",
                "sclk",
                "freq2_input",
                "1000000000",
                "freq2_label",
                "mclk",
                "power1_average",
                "115000000",
                "power1_label",
                "PPT",
                "power1_cap",
                "120000000",
                "in0_input",
                "906",
                "in0_label",
                "vddgfx",
                "fan1_input",
                "2100");
    }
}
