// SPDX-License-Identifier: GPL-2.0
/*
 * user_i2c: an I2C bus whose chips live in a program.
 *
 * Every transfer on the bus is handed to the one program that holds
 * /dev/user-i2c open, and the transfer waits for that program's answer.
 *
 * The program reads a request:   u32 number, u32 message count, then for each
 *                                message u16 address, u16 flags, u16 length and,
 *                                unless it is a read, `length` bytes.
 * The program writes an answer:  u32 number, s32 status (0 or -errno), then the
 *                                bytes of all messages that read, in order.
 *
 * No program: ENXIO. A program that does not answer: ETIMEDOUT after
 * `answer_ms`; its late answer is refused with ESTALE.
 *
 * Part of Sumlight's tests; not needed on a Raspberry Pi.
 */
#include <linux/completion.h>
#include <linux/fs.h>
#include <linux/i2c.h>
#include <linux/miscdevice.h>
#include <linux/module.h>
#include <linux/mutex.h>
#include <linux/platform_device.h>
#include <linux/poll.h>
#include <linux/slab.h>
#include <linux/uaccess.h>
#include <linux/wait.h>

static int bus = 1;
module_param(bus, int, 0444);
MODULE_PARM_DESC(bus, "number of the bus, as in /dev/i2c-1");

static int answer_ms = 400;
module_param(answer_ms, int, 0644);
MODULE_PARM_DESC(answer_ms, "how long a transfer waits for its answer");

#define REQUEST_MAX 16384

/* All of this is guarded by `guard`; the I2C core lets in one transfer at a time. */
static DEFINE_MUTEX(guard);
static DECLARE_WAIT_QUEUE_HEAD(asked);
static DECLARE_COMPLETION(answered);
static u8 *request;
static size_t request_size;
static u32 number;
static bool waiting;		/* a request is there to be read */
static struct i2c_msg *under_way;
static int messages;
static int status;
static bool served;

static struct platform_device *parent;

static bool reads(const struct i2c_msg *msg)
{
	return msg->flags & I2C_M_RD;
}

static void append(const void *bytes, size_t size)
{
	memcpy(request + request_size, bytes, size);
	request_size += size;
}

static int write_request(struct i2c_msg *msgs, int count)
{
	size_t size = 8;
	u32 head[2];
	int i;

	for (i = 0; i < count; i++)
		size += 6 + (reads(&msgs[i]) ? 0 : msgs[i].len);
	if (size > REQUEST_MAX)
		return -EMSGSIZE;

	head[0] = ++number;
	head[1] = count;
	request_size = 0;
	append(head, sizeof(head));
	for (i = 0; i < count; i++) {
		u16 what[3] = { msgs[i].addr, msgs[i].flags, msgs[i].len };

		append(what, sizeof(what));
		if (!reads(&msgs[i]))
			append(msgs[i].buf, msgs[i].len);
	}
	return 0;
}

static int transfer(struct i2c_adapter *adapter, struct i2c_msg *msgs, int count)
{
	int result;

	mutex_lock(&guard);
	result = served ? write_request(msgs, count) : -ENXIO;
	if (result) {
		mutex_unlock(&guard);
		return result;
	}
	under_way = msgs;
	messages = count;
	reinit_completion(&answered);
	waiting = true;
	mutex_unlock(&guard);
	wake_up_interruptible(&asked);

	wait_for_completion_timeout(&answered, msecs_to_jiffies(answer_ms));

	mutex_lock(&guard);
	if (under_way)
		result = -ETIMEDOUT;
	else
		result = status ? status : count;
	under_way = NULL;
	waiting = false;
	mutex_unlock(&guard);
	return result;
}

static u32 functions(struct i2c_adapter *adapter)
{
	return I2C_FUNC_I2C | I2C_FUNC_SMBUS_EMUL;
}

static const struct i2c_algorithm algorithm = {
	.master_xfer = transfer,
	.functionality = functions,
};

static struct i2c_adapter adapter = {
	.owner = THIS_MODULE,
	.name = "chips in a program",
	.algo = &algorithm,
};

static void finish(int with)
{
	status = with;
	under_way = NULL;
	complete(&answered);
}

static int server_open(struct inode *inode, struct file *file)
{
	int result = 0;

	mutex_lock(&guard);
	if (served)
		result = -EBUSY;
	served = true;
	mutex_unlock(&guard);
	return result ? result : stream_open(inode, file);
}

static int server_release(struct inode *inode, struct file *file)
{
	mutex_lock(&guard);
	served = false;
	if (under_way)
		finish(-ENXIO);
	mutex_unlock(&guard);
	return 0;
}

static ssize_t server_read(struct file *file, char __user *to, size_t size, loff_t *offset)
{
	ssize_t result;

	for (;;) {
		if (!(file->f_flags & O_NONBLOCK)) {
			result = wait_event_interruptible(asked, READ_ONCE(waiting));
			if (result)
				return result;
		}
		mutex_lock(&guard);
		if (waiting)
			break;
		mutex_unlock(&guard);
		if (file->f_flags & O_NONBLOCK)
			return -EAGAIN;
	}
	if (request_size > size)
		result = -EINVAL;
	else if (copy_to_user(to, request, request_size))
		result = -EFAULT;
	else
		result = request_size;
	waiting = false;
	mutex_unlock(&guard);
	return result;
}

static int take_answer(const char __user *from, size_t size)
{
	size_t used = 8;
	int i;

	for (i = 0; i < messages; i++) {
		struct i2c_msg *msg = &under_way[i];

		if (!reads(msg))
			continue;
		if (used + msg->len > size)
			return -EMSGSIZE;
		if (copy_from_user(msg->buf, from + used, msg->len))
			return -EFAULT;
		used += msg->len;
	}
	return 0;
}

static ssize_t server_write(struct file *file, const char __user *from, size_t size, loff_t *offset)
{
	struct {
		u32 number;
		s32 status;
	} head;
	int result = 0;

	if (size < sizeof(head))
		return -EINVAL;
	if (copy_from_user(&head, from, sizeof(head)))
		return -EFAULT;
	mutex_lock(&guard);
	if (!under_way || head.number != number)
		result = -ESTALE;
	else if (head.status < 0)
		finish(head.status);
	else {
		result = take_answer(from, size);
		finish(result ? -EIO : 0);
	}
	mutex_unlock(&guard);
	return result ? result : size;
}

static __poll_t server_poll(struct file *file, poll_table *wait)
{
	poll_wait(file, &asked, wait);
	return EPOLLOUT | EPOLLWRNORM | (READ_ONCE(waiting) ? EPOLLIN | EPOLLRDNORM : 0);
}

static const struct file_operations server_operations = {
	.owner = THIS_MODULE,
	.open = server_open,
	.release = server_release,
	.read = server_read,
	.write = server_write,
	.poll = server_poll,
};

static struct miscdevice server = {
	.minor = MISC_DYNAMIC_MINOR,
	.name = "user-i2c",
	.fops = &server_operations,
};

static int __init user_i2c_init(void)
{
	int result;

	request = kmalloc(REQUEST_MAX, GFP_KERNEL);
	if (!request)
		return -ENOMEM;
	parent = platform_device_register_simple("user-i2c", PLATFORM_DEVID_NONE, NULL, 0);
	if (IS_ERR(parent)) {
		result = PTR_ERR(parent);
		goto no_parent;
	}
	result = misc_register(&server);
	if (result)
		goto no_server;
	adapter.nr = bus;
	adapter.dev.parent = &parent->dev;
	result = i2c_add_numbered_adapter(&adapter);
	if (!result)
		return 0;
	misc_deregister(&server);
no_server:
	platform_device_unregister(parent);
no_parent:
	kfree(request);
	return result;
}

static void __exit user_i2c_exit(void)
{
	i2c_del_adapter(&adapter);
	misc_deregister(&server);
	platform_device_unregister(parent);
	kfree(request);
}

module_init(user_i2c_init);
module_exit(user_i2c_exit);
MODULE_DESCRIPTION("I2C bus whose chips live in a program");
MODULE_LICENSE("GPL");
