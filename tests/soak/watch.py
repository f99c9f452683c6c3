"""What a running process takes, read from /proc: memory, descriptors, threads, files on disk."""
import os
import time


class Sample:
    def __init__(self, pid, folder):
        with open(f"/proc/{pid}/status", encoding="utf-8") as status:
            fields = dict(line.split(":", 1) for line in status)
        self.at_s = time.monotonic()
        self.memory_kB = int(fields["VmRSS"].split()[0])
        self.threads = int(fields["Threads"])
        self.descriptors = len(os.listdir(f"/proc/{pid}/fd"))
        self.disk_B = sum(entry.stat().st_size for entry in os.scandir(folder) if entry.is_file())


def descriptors(pid):
    """What each descriptor is, for saying which one is too many."""
    named = []
    for number in os.listdir(f"/proc/{pid}/fd"):
        try:
            named.append(os.readlink(f"/proc/{pid}/fd/{number}"))
        except OSError:
            pass
    return named


def sockets(names):
    """What the kernel knows of those of these names that are sockets: a line of /proc/net/tcp or /proc/net/unix each."""
    numbers = {name[8:-1] for name in names if name.startswith("socket:")}
    lines = []
    for table in ("/proc/net/tcp", "/proc/net/unix"):
        with open(table, encoding="utf-8") as rows:
            lines += [" ".join(row.split()) for row in rows if numbers.intersection(row.split())]
    return lines


def queued_s(pid):
    """How long the bench's thread, the first, has waited for a processor that others had."""
    with open(f"/proc/{pid}/schedstat", encoding="utf-8") as schedule:
        return int(schedule.read().split()[1]) / 1e9


def processor_s(pid):
    with open(f"/proc/{pid}/stat", encoding="utf-8") as stat:
        fields = stat.read().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def trend_kB_per_min(samples):
    """The slope of the straight line with the least squares through the memory of these samples, the lowest of each
    minute: what a burst takes for a while is given back, and would hide what is not."""
    lowest = {}
    for sample in samples:
        minute = sample.at_s // 60
        lowest[minute] = min(lowest.get(minute, sample), sample, key=lambda one: one.memory_kB)
    samples = list(lowest.values())
    if len(samples) < 3:
        return 0.0
    times = [sample.at_s / 60 for sample in samples]
    values = [sample.memory_kB for sample in samples]
    middle_t, middle_v = sum(times) / len(times), sum(values) / len(values)
    spread = sum((t - middle_t) ** 2 for t in times)
    return sum((t - middle_t) * (v - middle_v) for t, v in zip(times, values)) / spread if spread else 0.0
