# Simulated hardware of the guest, sourced by init.sh: a Pi's GPIO chip, an I2C bus, a record of what the lines do.
modprobe -a configfs gpio_sim_whole i2c-dev user_i2c || return
mountpoint -q /sys/kernel/config || mount -t configfs config /sys/kernel/config || return
mountpoint -q /sys/kernel/tracing || mount -t tracefs trace /sys/kernel/tracing || return

chip=/sys/kernel/config/gpio-sim/pi
mkdir -p $chip/header || return
echo pinctrl-bcm2711 >$chip/header/label
echo 54 >$chip/header/num_lines
for line in {0..27}; do
    mkdir $chip/header/line$line
    echo GPIO$line >$chip/header/line$line/name
done
echo 1 >$chip/live || return
export SUMLIGHT_GPIO=/sys/devices/platform/$(cat $chip/dev_name)/$(cat $chip/header/chip_name)

# Every level that any program sets, and every change of direction, with the clock that Python calls monotonic.
tracing=/sys/kernel/tracing
echo mono >$tracing/trace_clock && echo 8192 >$tracing/buffer_size_kb && echo 1 >$tracing/events/gpio/enable || return

# The pin library and the sensor's driver tell a Pi by this file.
{
    cat /proc/cpuinfo
    printf 'Hardware\t: BCM2835\nRevision\t: c03114\nSerial\t\t: 1000000000000001\nModel\t\t: Raspberry Pi 4 Model B Rev 1.4\n'
} >/run/cpuinfo
mount --bind /run/cpuinfo /proc/cpuinfo
export LG_WD=/run
